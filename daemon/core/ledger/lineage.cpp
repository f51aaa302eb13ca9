#include "core/ledger/lineage.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "base/text.hpp"

namespace tubwarden {
namespace {

constexpr Duration kSiblingsWithin = days(365);

/// Ids of one side of a trace.
struct Kin {
  std::set<std::string> jars, cultures, runs, mixes;
  std::set<BedKey> beds;
};

void add_sources(const Jar& jar, Kin& kin) {
  if (!jar.culture.empty()) kin.cultures.insert(jar.culture);
  if (!jar.run.empty()) kin.runs.insert(jar.run);
}

struct Family {
  Kin sources, itself, offspring;
};

void add_bed_sources(const GrowBook& book, const Bed& bed, Kin& kin) {
  if (!bed.mix.empty()) kin.mixes.insert(bed.mix);
  for (const std::string& id : bed.jars) {
    kin.jars.insert(id);
    if (const Jar* jar = book.jar(id)) add_sources(*jar, kin);
  }
}

template <class Wanted>
void add_jars_that(const GrowBook& book, Kin& kin, Wanted wanted) {
  for (const auto& [id, jar] : book.jars()) {
    if (!wanted(jar)) continue;
    kin.jars.insert(id);
    if (jar.fate == JarFate::mixed) kin.beds.insert({jar.into_tub, jar.into_batch});
  }
}

Family family_of_batch(const GrowBook& book, const std::string& id) {
  Family family;
  for (const auto& [jar_id, jar] : book.jars()) {
    if (jar.batch != id) continue;
    family.itself.jars.insert(jar_id);
    add_sources(jar, family.sources);
  }
  for (const auto& [key, bed] : book.beds()) {
    if (key.second != id) continue;
    family.itself.beds.insert(key);
    add_bed_sources(book, bed, family.sources);
  }
  return family;
}

std::optional<std::pair<GrowThing, Family>> family_of(const GrowBook& book, const std::string& id) {
  Family family;
  if (const Jar* jar = book.jar(id)) {
    family.itself.jars.insert(id);
    add_sources(*jar, family.sources);
    if (jar->fate == JarFate::mixed) family.offspring.beds.insert({jar->into_tub, jar->into_batch});
    return std::pair(GrowThing::jar, family);
  }
  if (book.cultures().contains(id)) {
    family.itself.cultures.insert(id);
    add_jars_that(book, family.offspring, [&](const Jar& jar) { return jar.culture == id; });
    return std::pair(GrowThing::culture, family);
  }
  if (book.runs().contains(id)) {
    family.itself.runs.insert(id);
    add_jars_that(book, family.offspring, [&](const Jar& jar) { return jar.run == id; });
    return std::pair(GrowThing::run, family);
  }
  if (book.mixes().contains(id)) {
    family.itself.mixes.insert(id);
    for (const auto& [key, bed] : book.beds()) {
      if (bed.mix == id) family.offspring.beds.insert(key);
    }
    return std::pair(GrowThing::mix, family);
  }
  for (const auto& [key, bed] : book.beds()) {
    if (key.first != id) continue;
    family.itself.beds.insert(key);
    add_bed_sources(book, bed, family.sources);
  }
  if (!family.itself.beds.empty()) return std::pair(GrowThing::tub, family);
  family = family_of_batch(book, id);
  const Kin& own = family.itself;
  if (own.jars.empty() && own.beds.empty()) return std::nullopt;
  return std::pair(GrowThing::batch, family);
}

/// What of an act's things one side of the family knows; empty: nothing.
struct AboutKin {
  const Kin& kin;
  bool of_offspring;  ///< a jar's looks and moves are its own affair

  std::string first_of(const std::vector<std::string>& jars) const {
    for (const std::string& id : jars) {
      if (kin.jars.contains(id)) return id;
    }
    return "";
  }
  std::string in(const std::set<std::string>& ids, const std::string& id) const {
    return ids.contains(id) ? id : "";
  }
  std::string bed(const std::string& tub, const std::string& batch) const {
    return kin.beds.contains({tub, batch}) ? tub : "";
  }
  std::string passing(const std::string& jar) const {
    return of_offspring ? "" : in(kin.jars, jar);
  }

  std::string operator()(const CultureReceived& a) const { return in(kin.cultures, a.culture); }
  std::string operator()(const CultureOpened& a) const { return in(kin.cultures, a.culture); }
  std::string operator()(const CultureDiscarded& a) const { return in(kin.cultures, a.culture); }
  std::string operator()(const Sterilised& a) const { return in(kin.runs, a.run); }
  std::string operator()(const JarsAdded& a) const { return first_of(a.jars); }
  std::string operator()(const JarsInoculated& a) const { return first_of(a.jars); }
  std::string operator()(const JarLookedAt& a) const { return passing(a.jar); }
  std::string operator()(const JarShaken& a) const { return passing(a.jar); }
  std::string operator()(const JarsMoved& a) const { return of_offspring ? "" : first_of(a.jars); }
  std::string operator()(const JarContaminated& a) const { return in(kin.jars, a.jar); }
  std::string operator()(const JarDiscarded& a) const { return in(kin.jars, a.jar); }
  std::string operator()(const SubstrateMade& a) const { return in(kin.mixes, a.mix); }
  std::string operator()(const TubSpawned& a) const {
    const std::string tub = bed(a.tub, a.batch);
    return tub.empty() ? first_of(a.jars) : tub;
  }
  std::string operator()(const TubCased& a) const { return bed(a.tub, a.batch); }
  std::string operator()(const PinsSeen& a) const { return bed(a.tub, a.batch); }
  std::string operator()(const Picked& a) const { return bed(a.tub, a.batch); }
  std::string operator()(const FlushCleaned& a) const { return bed(a.tub, a.batch); }
  std::string operator()(const TubContaminated& a) const { return bed(a.tub, a.batch); }
  std::string operator()(const Observed& a) const {
    for (const auto* ids : {&kin.jars, &kin.cultures, &kin.runs, &kin.mixes}) {
      if (ids->contains(a.of)) return a.of;
    }
    return "";
  }
  std::string operator()(const UpkeepDone&) const { return ""; }
  std::string operator()(const Undone&) const { return ""; }
};

void add_phases(const GrowBook& book, const Kin& kin, TraceSide side, std::vector<TraceLine>& to) {
  for (const BedKey& key : kin.beds) {
    const Bed* bed = book.bed(key.first, key.second);
    if (!bed) continue;
    for (const PhaseSpan& span : bed->phases) {
      std::string text = fmt::format("{} enters {}", bed->tub, span.phase);
      if (span.flush > 0) text += fmt::format(", flush {}", span.flush);
      to.push_back({span.from, side, bed->tub, text, "", 0});
    }
  }
}

}  // namespace

Result<Trace> trace(const GrowBook& book, const std::string& id) {
  const auto found = family_of(book, id);
  if (!found) {
    return Error{ErrorCode::not_found,
                 fmt::format("nothing in the record of the grow is called '{}'; there are jars, "
                             "cultures, runs, substrates, tubs and batches: tubwarden jar list",
                             id)};
  }
  const auto& [what, family] = *found;
  Trace all{what, id, {}};
  const std::pair<TraceSide, const Kin*> sides[] = {{TraceSide::itself, &family.itself},
                                                    {TraceSide::source, &family.sources},
                                                    {TraceSide::offspring, &family.offspring}};
  for (std::size_t i = 0; i < book.entries().size(); ++i) {
    if (!book.stands(i)) continue;
    const GrowEntry& entry = book.entries()[i];
    for (const auto& [side, kin] : sides) {
      const AboutKin about{*kin, side == TraceSide::offspring};
      const std::string of = std::visit(about, entry.act);
      if (of.empty()) continue;
      all.lines.push_back({entry.at, side, of, told(entry.act), entry.note, entry.entry});
      break;
    }
  }
  for (const auto& [side, kin] : sides) add_phases(book, *kin, side, all.lines);
  std::stable_sort(all.lines.begin(), all.lines.end(),
                   [](const TraceLine& a, const TraceLine& b) { return a.at < b.at; });
  return all;
}

namespace {

WallTime born(const Jar& jar) { return jar.inoculated.value_or(jar.added); }

/// Days since 1970 by the clock of a place.
std::int64_t day_in_place(WallTime at, Duration east) {
  return std::chrono::floor<days>(at + duration_cast<milliseconds>(east))
      .time_since_epoch()
      .count();
}

std::string shared_name(const Jar& jar, SharedBy by, Duration east) {
  switch (by) {
    case SharedBy::culture:
      return jar.culture;
    case SharedBy::run:
      return jar.run;
    case SharedBy::grain:
      return jar.grain;
    case SharedBy::day:
      return rfc3339(born(jar) + duration_cast<milliseconds>(east)).substr(0, 10);
  }
  return "";
}

bool share(const Jar& one, const Jar& other, SharedBy by, Duration east) {
  switch (by) {
    case SharedBy::culture:
      return one.culture == other.culture;
    case SharedBy::run:
      return one.run == other.run;
    case SharedBy::grain:
      return one.grain == other.grain;
    case SharedBy::day:
      return day_in_place(born(one), east) == day_in_place(born(other), east);
  }
  return false;
}

}  // namespace

std::vector<SiblingGroup> siblings(const GrowBook& book, const Jar& jar, Duration east_of_utc) {
  std::vector<SiblingGroup> groups;
  for (SharedBy by : {SharedBy::culture, SharedBy::run, SharedBy::grain, SharedBy::day}) {
    const std::string name = shared_name(jar, by, east_of_utc);
    if (!name.empty()) groups.push_back({by, name, 0, 0, 0, 0, {}, {}});
  }
  std::vector<std::set<std::string>> tubs(groups.size());
  for (const auto& [id, other] : book.jars()) {
    const Duration apart = born(other) > born(jar) ? Duration(born(other) - born(jar))
                                                   : Duration(born(jar) - born(other));
    if (apart > kSiblingsWithin) continue;
    const bool bad = other.contaminated.has_value();
    for (std::size_t i = 0; i < groups.size(); ++i) {
      SiblingGroup& group = groups[i];
      if (!share(jar, other, group.by, east_of_utc)) {
        ++group.others;
        group.others_affected += bad;
        continue;
      }
      ++group.all;
      group.affected += bad;
      if (id != jar.id && other.stands()) group.to_watch.push_back(id);
      if (other.fate == JarFate::mixed) tubs[i].insert(other.into_tub);
    }
  }
  for (std::size_t i = 0; i < groups.size(); ++i)
    groups[i].tubs.assign(tubs[i].begin(), tubs[i].end());
  return groups;
}

}  // namespace tubwarden
