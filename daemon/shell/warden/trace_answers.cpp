// Answers about where something came from, and which jars stand beside a contaminated one.
#include <fmt/format.h>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/forecast/chance.hpp"
#include "core/ledger/lineage.hpp"
#include "shell/warden/grow_asked.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// A group of siblings is told by name up to so many.
constexpr std::size_t kToWatchMax = 50;

std::string_view word_of(GrowThing what) {
  switch (what) {
    case GrowThing::jar:
      return "jar";
    case GrowThing::culture:
      return "culture";
    case GrowThing::run:
      return "run";
    case GrowThing::mix:
      return "mix";
    case GrowThing::tub:
      return "tub";
    case GrowThing::batch:
      return "batch";
  }
  ENSURE(false);
}

std::string_view word_of(TraceSide side) {
  switch (side) {
    case TraceSide::source:
      return "source";
    case TraceSide::itself:
      return "itself";
    case TraceSide::offspring:
      return "offspring";
  }
  ENSURE(false);
}

std::string_view word_of(SharedBy by) {
  switch (by) {
    case SharedBy::culture:
      return "culture";
    case SharedBy::run:
      return "run";
    case SharedBy::grain:
      return "grain";
    case SharedBy::day:
      return "day";
  }
  ENSURE(false);
}

/// The exact test of a group, and what it says; nothing where nothing stands against it. The jar
/// that is asked about is not counted: it is known to be contaminated, and so tells nothing.
struct Chance {
  double value = 1.0;
  bool more = false;
};
std::optional<Chance> chance_of_group(const SiblingGroup& group, std::size_t groups) {
  if (group.affected < 2 || group.others == 0) return std::nullopt;
  const auto count = [](std::size_t n) { return static_cast<std::int64_t>(n); };
  const auto chance = chance_of({count(group.affected) - 1, count(group.all) - 1,
                                 count(group.others_affected), count(group.others)});
  if (!chance.ok()) return std::nullopt;
  return Chance{*chance, more_than_chance(*chance, static_cast<int>(groups))};
}

std::string told_chance(const Chance& chance) {
  const std::string percent =
      chance.value < 0.001 ? "less than 0.1" : trimmed(chance.value * 100.0, 1);
  return fmt::format("; {} (Fisher's exact test: as many by chance in {} % of cases)",
                     chance.more ? "more than chance" : "no more than chance may bring", percent);
}

std::string told_group(const SiblingGroup& group, const std::optional<Chance>& chance) {
  std::string text = group.by == SharedBy::day ? "inoculated on " + group.name
                                               : std::string(word_of(group.by)) + " " + group.name;
  text += fmt::format(": {} of {} jars contaminated", group.affected, group.all);
  if (group.others > 0) {
    text += fmt::format(", of the {} others {}", group.others, group.others_affected);
  }
  if (chance) text += told_chance(*chance);
  if (!group.to_watch.empty()) text += "; watch " + told_ids(group.to_watch);
  if (!group.tubs.empty()) text += fmt::format("; mixed into {}", fmt::join(group.tubs, ", "));
  return text;
}

Json group_view(const SiblingGroup& group, std::size_t groups) {
  const auto chance = chance_of_group(group, groups);
  std::vector<std::string> watch = group.to_watch;
  const std::size_t more = watch.size() > kToWatchMax ? watch.size() - kToWatchMax : 0;
  watch.resize(watch.size() - more);
  return {{"by", word_of(group.by)},
          {"name", group.name},
          {"jars", group.all},
          {"contaminated", group.affected},
          {"others", group.others},
          {"others_contaminated", group.others_affected},
          {"chance", chance ? Json(chance->value) : Json(nullptr)},
          {"more_than_chance", chance && chance->more},
          {"watch", watch},
          {"watch_more", more},
          {"tubs", group.tubs},
          {"text", told_group(group, chance)}};
}

}  // namespace

Json siblings_view(const Warden::State& s, const Jar& jar) {
  Json groups = Json::array();
  const auto all = siblings(s.grow.book, jar, s.east_of_utc());
  for (const SiblingGroup& group : all) {
    if (group.all > 1) groups.push_back(group_view(group, all.size()));
  }
  return groups;
}

void do_trace(Asked& asked) {
  const auto found = trace(asked.s.grow.book, asked.args.text("of"));
  if (!found.ok()) return asked.reply(found.error());
  Json lines = Json::array();
  for (const TraceLine& line : found->lines) {
    lines.push_back({{"at", rfc3339(line.at)},
                     {"side", word_of(line.side)},
                     {"of", line.of},
                     {"text", line.text},
                     {"note", line.note},
                     {"entry", line.entry == 0 ? Json(nullptr) : Json(line.entry)}});
  }
  Json answer = {{"of", found->id}, {"kind", word_of(found->what)}, {"lines", std::move(lines)}};
  const Jar* jar = asked.s.grow.book.jar(found->id);
  if (jar && jar->contaminated) answer["siblings"] = siblings_view(asked.s, *jar);
  asked.reply(answer.dump());
}

/// By how much local time is ahead of UTC now: more than -11 hours, at most +13.
Duration Warden::State::east_of_utc() const {
  const auto day = duration_cast<seconds>(parts.clock.wall().time_since_epoch()) % days(1);
  Duration east = seconds(parts.clock.local_second_of_day()) - day;
  if (east > hours(13)) east -= days(1);
  if (east <= -hours(11)) east += days(1);
  return east;
}

}  // namespace tubwarden
