// Acts of the grower, judged and kept: the way each of them goes.
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kWordsMax = 2000;

GrowSite site_of(const Warden::State& s) {
  GrowSite site;
  for (const auto& [id, tub] : s.tubs) {
    (tub.plan.is_shelf ? site.shelves : site.tubs).push_back(id);
  }
  return site;
}

/// When it was done: by `on`, else now.
Result<WallTime> done_at(const Asked& asked) {
  const Clock& clock = asked.s.parts.clock;
  const std::string on = asked.args.text("on");
  if (on.empty()) {
    if (clock.wall_is_set()) return clock.wall();
    return Error{ErrorCode::refused,
                 "the board's clock is not set yet, so it is not known when this was done; say "
                 "when, like --on '2026-11-24 14:30', or wait until the clock is set"};
  }
  const auto at = parse_rfc3339(on);
  if (at) return *at;
  return Error{ErrorCode::bad_input,
               fmt::format("'{}' is no time; allowed: RFC 3339, like 2026-11-24T14:30:00Z", on)};
}

std::string batch_of_jar(const GrowBook& book, const std::string& id) {
  const Jar* jar = book.jar(id);
  return jar ? jar->batch : "";
}

/// The tub and batch whose time line shows an act.
struct PlaceOfAct {
  std::string tub, batch;
};
PlaceOfAct place_of(const GrowBook& book, const GrowAct& act) {
  PlaceOfAct place{tub_of(act), batch_of(act)};
  if (!place.batch.empty()) return place;
  if (const auto* undo = std::get_if<Undone>(&act)) {
    const GrowEntry* taken_back = book.find(undo->entry);
    return taken_back ? place_of(book, taken_back->act) : place;
  }
  place.batch = std::visit(
      [&](const auto& a) -> std::string {
        if constexpr (requires { a.jar; }) {
          return batch_of_jar(book, a.jar);
        } else if constexpr (requires { a.jars; }) {
          return a.jars.empty() ? "" : batch_of_jar(book, a.jars.front());
        } else if constexpr (requires {
                               a.of;
                               a.text;
                             }) {
          const auto batches = book.batches();
          const bool of_batch = std::find(batches.begin(), batches.end(), a.of) != batches.end();
          return of_batch ? a.of : batch_of_jar(book, a.of);
        } else {
          return "";
        }
      },
      act);
  return place;
}

/// An act about jars of several batches is one act a batch, so that each has it in its time line.
std::vector<GrowAct> by_batch(const GrowBook& book, const GrowAct& act) {
  const auto split = [&](const auto& whole) {
    using Act = std::decay_t<decltype(whole)>;
    std::map<std::string, Act> parts;
    for (const std::string& jar : whole.jars) {
      Act& part = parts.try_emplace(batch_of_jar(book, jar), whole).first->second;
      if (part.jars.size() == whole.jars.size()) part.jars.clear();
    }
    for (const std::string& jar : whole.jars) parts.at(batch_of_jar(book, jar)).jars.push_back(jar);
    std::vector<GrowAct> acts;
    for (auto& [batch, part] : parts) acts.emplace_back(std::move(part));
    return acts;
  };
  if (const auto* moved = std::get_if<JarsMoved>(&act)) return split(*moved);
  if (const auto* given = std::get_if<JarsInoculated>(&act)) return split(*given);
  return {act};
}

std::string told_all(const std::vector<GrowAct>& acts) {
  std::string text;
  for (const GrowAct& act : acts) text += (text.empty() ? "" : "; ") + told(act);
  return text;
}

/// The entries of a request, in the book before they are on disk: what follows may build on them.
struct Kept {
  std::vector<Entry> entries;
  std::vector<std::size_t> places;
};

/// Judges each act over those before it; one that is refused takes all of them out again.
Result<Kept> take_in(Asked& asked, const std::vector<GrowAct>& acts, WallTime at) {
  Kept kept;
  Warden::State& s = asked.s;
  GrowBook& book = s.grow.book;
  const GrowSite site = site_of(s);
  const WallTime now = s.parts.clock.wall_is_set() ? s.parts.clock.wall() : at;
  for (const GrowAct& act : acts) {
    if (const Outcome may = book.judge(act, at, now, site); !may.ok()) {
      for (const std::size_t place : kept.places) book.drop(place);
      return may.error();
    }
    for (GrowAct& part : by_batch(book, act)) {
      const PlaceOfAct place = place_of(book, part);
      GrowEntry entry{
          0, at, asked.who, std::move(part), asked.args.text("note"), asked.args.text("photo")};
      kept.entries.push_back(s.entry(asked.who, GrowNoted{entry, place.tub, place.batch}));
      kept.places.push_back(book.apply(std::move(entry)));
    }
  }
  return kept;
}

}  // namespace

void keep_acts(Asked& asked, std::vector<GrowAct> acts, std::string text,
               const std::function<Json()>& more) {
  const auto at = done_at(asked);
  if (!at.ok()) return asked.reply(at.error());
  for (const char* words : {"note", "photo"}) {
    if (asked.args.text(words).size() <= kWordsMax) continue;
    return asked.reply(
        Error{ErrorCode::bad_input, fmt::format("a {} has at most {} bytes", words, kWordsMax)});
  }
  Warden::State& s = asked.s;
  auto kept = take_in(asked, acts, *at);
  if (!kept.ok()) return asked.reply(kept.error());
  if (text.empty()) text = told_all(acts);
  s.parts.log(text + " by " + asked.who);

  Json done = {{"entry", nullptr}, {"entries", Json::array()}, {"on_disk", true}, {"text", text}};
  if (!asked.args.text("on").empty()) done["done"] = rfc3339(*at);
  if (more) done.update(more());
  Json late = done;
  late["on_disk"] = false;
  late["text"] = text + " (done, not yet on disk)";
  const auto ids = std::make_shared<std::vector<std::int64_t>>();
  s.append_and_answer(
      std::move(kept->entries), late.dump(), std::move(asked.reply),
      [done, ids](std::int64_t entry) {
        Json answer = done;
        answer["entry"] = entry;
        answer["entries"] = *ids;
        return answer.dump();
      },
      [&s, places = kept->places, ids](const Result<std::vector<std::int64_t>>& result) {
        for (std::size_t i = 0; i < places.size(); ++i) {
          if (result.ok()) {
            s.grow.book.on_disk(places[i], (*result)[i]);
          } else {
            s.grow.book.drop(places[i]);
          }
        }
        if (result.ok()) *ids = *result;
      });
}

bool is_of_grow(const GrowBook& book, const std::string& id) {
  const auto batches = book.batches();
  return book.jars().contains(id) || book.cultures().contains(id) || book.runs().contains(id) ||
         book.mixes().contains(id) ||
         std::find(batches.begin(), batches.end(), id) != batches.end();
}

std::optional<BedNamed> bed_named(Asked& asked) {
  const Tub* tub = tub_named(asked);
  if (!tub) return std::nullopt;
  if (tub->known && tub->known->batch == tub->plan.batch) {
    return BedNamed{tub->plan.id, tub->known->batch};
  }
  asked.reply(Error{ErrorCode::refused,
                    fmt::format("no batch is open in {0}; open the one its file names first: "
                                "tubwarden phase {0} PHASE",
                                tub->plan.id)});
  return std::nullopt;
}

std::optional<double> number_named(Asked& asked, const char* name, const char* example) {
  const auto value = asked.args.number(name);
  if (!value) {
    asked.reply(Error{ErrorCode::bad_input,
                      fmt::format("'{}' is missing; give a number, like {}", name, example)});
  }
  return value;
}

Json time_of(const std::optional<WallTime>& at) { return at ? Json(rfc3339(*at)) : Json(nullptr); }

std::vector<std::string> jars_named(Asked& asked) {
  std::vector<std::string> jars = asked.args.texts("jars");
  std::vector<std::string> sorted = jars;
  std::sort(sorted.begin(), sorted.end());
  const auto twice = std::adjacent_find(sorted.begin(), sorted.end());
  std::string wrong;
  if (jars.empty()) wrong = "no jar is named; name one or more, like J-3 or J-1..J-5";
  if (twice != sorted.end()) wrong = fmt::format("jar {} is named twice", *twice);
  if (jars.size() > kJarsAtOnceMax) {
    wrong = fmt::format("{} jars at once; at most {} are", jars.size(), kJarsAtOnceMax);
  }
  if (wrong.empty()) return jars;
  asked.reply(Error{ErrorCode::bad_input, wrong});
  return {};
}

void Warden::remember_grow(std::vector<GrowEntry> entries, const std::vector<PhaseRow>& phases) {
  // Phases first: a pick or a pin belongs to the flush of its phase.
  for (const PhaseRow& row : phases) {
    state_->grow.book.phase(row.tub, row.batch, span_of(row.phase, row.since.wall));
  }
  for (GrowEntry& entry : entries) state_->grow.book.apply(std::move(entry));
}

PhaseSpan span_of(const std::string& phase, WallTime from) {
  return {phase, from, phase == kPhaseFruiting, 0};
}

void Warden::State::note_phase(const TubRecord& began) {
  const PhaseSpan span = span_of(began.phase, began.since.wall);
  if (began.since.wall_set) {
    grow.book.phase(began.tub, began.batch, span);
  } else {
    grow.undated.push_back({began.tub, began.batch, span, began.since.boot});
  }
}

/// The clock has just been set: phases that began before it have their time now.
void Warden::State::date_phases() {
  const Stamp at = stamp();
  for (GrowHeld::Undated& undated : grow.undated) {
    undated.span.from = at.wall - duration_cast<milliseconds>(at.boot - undated.began);
    grow.book.phase(undated.tub, undated.batch, undated.span);
  }
  grow.undated.clear();
}

}  // namespace tubwarden
