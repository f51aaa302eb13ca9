// Answers about tubs that grow: spawned, cased, pinned, picked, cleaned; and acts taken back.
#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/grow_views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kUndoneAtOnceMax = 100;

/// The entries of the command that wrote the newest act: same hand, same moment, same kind.
std::vector<std::int64_t> entries_of_last(const GrowBook& book) {
  std::vector<std::int64_t> found;
  const GrowEntry* last = book.last();
  if (!last) return found;
  const auto& entries = book.entries();
  for (std::size_t place = static_cast<std::size_t>(last - entries.data()) + 1; place-- > 0;) {
    const GrowEntry& entry = entries[place];
    const bool same = entry.at == last->at && entry.who == last->who &&
                      entry.act.index() == last->act.index() && book.stands(place) &&
                      entry.entry == last->entry - static_cast<std::int64_t>(found.size());
    if (!same) break;
    found.push_back(entry.entry);
  }
  return found;
}

Result<std::vector<std::int64_t>> entries_to_undo(Asked& asked) {
  const GrowBook& book = asked.s.grow.book;
  std::vector<std::int64_t> entries;
  if (asked.args.yes("last")) {
    const GrowEntry* last = book.last();
    if (!last) return Error{ErrorCode::not_found, "there is no act of the grow to take back"};
    if (last->entry == 0) {
      return Error{ErrorCode::unavailable,
                   "the last act is not on disk yet; ask again in a few seconds"};
    }
    return entries_of_last(book);
  }
  for (const double number : asked.args.numbers("entries")) {
    entries.push_back(static_cast<std::int64_t>(number));
  }
  std::sort(entries.begin(), entries.end(), std::greater<>());
  entries.erase(std::unique(entries.begin(), entries.end()), entries.end());
  if (!entries.empty() && entries.size() <= kUndoneAtOnceMax) return entries;
  return Error{ErrorCode::bad_input,
               fmt::format("say what is to be taken back: tubwarden undo last, or up to {} entries "
                           "by their numbers",
                           kUndoneAtOnceMax)};
}

/// What a harvest comes to: of this flush, and of the whole.
std::string told_yield(const Bed& bed, double now_grams) {
  const Flush* last = bed.flushes.empty() ? nullptr : &bed.flushes.back();
  const bool goes_on = last && !last->cleaned;
  const int number = goes_on ? last->number : last ? last->number + 1 : 1;
  const double flush = (goes_on ? last->grams() : 0.0) + now_grams;
  return fmt::format("flush {}: {} g so far; {} g in all", number, trimmed(flush, 0),
                     trimmed(bed.grams() + now_grams, 0));
}

}  // namespace

void do_spawn(Asked& asked) {
  const auto bed = bed_named(asked);
  if (!bed) return;
  const auto substrate = number_named(asked, "substrate_kg", "5");
  if (!substrate) return;
  TubSpawned act;
  act.tub = bed->tub;
  act.batch = bed->batch;
  act.jars = jars_named(asked);
  if (act.jars.empty()) return;
  act.mix = asked.args.text("mix");
  act.substrate_kg = *substrate;
  act.dry_kg = asked.args.number("dry_kg");
  act.surface_m2 = asked.args.number("surface_m2");
  keep_acts(asked, {act});
}

void do_case(Asked& asked) {
  const auto bed = bed_named(asked);
  if (!bed) return;
  keep_acts(asked, {TubCased{bed->tub, bed->batch, asked.args.text("with"),
                             asked.args.number("depth_mm")}});
}

void do_pins(Asked& asked) {
  const auto bed = bed_named(asked);
  if (!bed) return;
  keep_acts(asked, {PinsSeen{bed->tub, bed->batch, asked.args.number("size_mm").value_or(2.0)}});
}

void do_harvest(Asked& asked) {
  const auto named = bed_named(asked);
  if (!named) return;
  const auto grams = number_named(asked, "grams", "420");
  if (!grams) return;
  const Picked act{named->tub, named->batch, *grams, asked.args.number("count")};
  const Bed* bed = asked.s.grow.book.bed(named->tub, named->batch);
  keep_acts(asked, {act}, bed ? told(GrowAct{act}) + "; " + told_yield(*bed, *grams) : "");
}

void do_clean(Asked& asked) {
  const auto bed = bed_named(asked);
  if (bed) keep_acts(asked, {FlushCleaned{bed->tub, bed->batch}});
}

void do_contaminated(Asked& asked) {
  const auto bed = bed_named(asked);
  if (!bed) return;
  keep_acts(asked, {TubContaminated{bed->tub, bed->batch, asked.args.text("seen")}});
}

void do_done(Asked& asked) {
  const std::string what = asked.args.text("what");
  constexpr std::array<const char*, 3> kKinds = {"recalibrated", "drilled", "cleaned"};
  if (std::find(kKinds.begin(), kKinds.end(), what) == kKinds.end()) {
    return asked.reply(unknown("upkeep", what, {kKinds.begin(), kKinds.end()}));
  }
  std::string of = asked.args.text("of");
  if (of.empty()) {  // a sensor by its tub
    const Tub* tub = tub_named(asked);
    if (!tub) return;
    of = tub->plan.chamber + "/" + asked.args.text("sensor");
  }
  keep_acts(asked, {UpkeepDone{what, of}});
}

void do_undo(Asked& asked) {
  const auto entries = entries_to_undo(asked);
  if (!entries.ok()) return asked.reply(entries.error());
  std::vector<GrowAct> acts;
  std::string text;
  for (const std::int64_t entry : *entries) {
    acts.push_back(Undone{entry});
    const GrowEntry* gone = asked.s.grow.book.find(entry);
    text += fmt::format("{}{}", text.empty() ? "" : "; ", gone ? told(gone->act) : "");
  }
  keep_acts(asked, std::move(acts), "taken back: " + text);
}

}  // namespace tubwarden
