#include "core/ledger/grow_rules.hpp"

namespace tubwarden {
namespace {

using judging::day_told;
using judging::end_told;
using judging::good_id;
using judging::in_range;
using judging::refused;
using judging::unknown_in;
using judging::wrong;

// Ranges that only a slip of the finger leaves (choice, no source).
constexpr double kCultureMl[] = {0.1, 5000.0};
constexpr double kFillG[] = {10.0, 20'000.0};
constexpr double kSubstrateKg[] = {0.05, 2000.0};
constexpr double kSurfaceM2[] = {0.005, 50.0};
constexpr double kCasingMm[] = {1.0, 200.0};
constexpr double kPinMm[] = {0.1, 80.0};
constexpr double kPickedG[] = {0.1, 500'000.0};
/// Of the wet substrate, at one pick: a good bed gives a third in all its flushes.
constexpr double kPickedShare = 0.5;
constexpr double kGaugeKpa[] = {10.0, 400.0};
constexpr double kF0Minutes[] = {0.0, 1000.0};
/// Clocks of a phone and a board differ by as much.
constexpr Duration kAhead = minutes(2);

/// One judgement; each rule answers for one kind of act.
struct GrowJudge : judging::GrowRules {
  Outcome operator()(const CultureReceived& a) const {
    TRY(is_new(s.cultures, a.culture, "culture"));
    return in_range(a.millilitres, kCultureMl, "a culture", "mL");
  }
  Outcome operator()(const CultureOpened& a) const {
    const auto found = culture(a.culture);
    if (!found.ok()) return found.error();
    if (!(*found)->opened) return Done{};
    return refused(
        fmt::format("{} has been open since {}", a.culture, day_told(*(*found)->opened)));
  }
  Outcome operator()(const CultureDiscarded& a) const {
    const auto found = culture(a.culture);
    return found.ok() ? words(a.why, "the reason") : found.error();
  }
  Outcome operator()(const Sterilised& a) const {
    TRY(is_new(s.runs, a.run, "sterilising run"));
    if (a.hold < minutes(1) || a.hold > hours(12)) {
      return wrong(fmt::format("held for {}: allowed are 1m to 12h", spoken(a.hold)));
    }
    if (a.gauge_kpa) TRY(in_range(*a.gauge_kpa, kGaugeKpa, "a gauge pressure", "kPa"));
    if (a.f0_minutes) TRY(in_range(*a.f0_minutes, kF0Minutes, "a lethality", "min"));
    return words(a.what, "what it held");
  }
  Outcome operator()(const JarsAdded& a) const {
    TRY(each_once(a.jars));
    for (const std::string& id : a.jars) TRY(is_new(s.jars, id, "jar"));
    TRY(good_id(a.batch, "batch"));
    if (!a.shelf.empty()) TRY(on_shelf(a.shelf));
    if (a.fill_g) TRY(in_range(*a.fill_g, kFillG, "a fill", "g"));
    if (!a.run.empty()) {
      const auto run = s.runs.find(a.run);
      if (run == s.runs.end()) {
        return unknown_in(s.runs, a.run, "sterilising run",
                          "enter it first: tubwarden sterilise ID --hold 90m");
      }
      TRY(not_before(run->second.at, a.run + " was sterilised"));
    }
    if (a.culture.empty()) return Done{};
    return drawn(a.culture, a.dose_ml, a.jars.size());
  }
  Outcome operator()(const JarsInoculated& a) const {
    TRY(each_once(a.jars));
    for (const std::string& id : a.jars) {
      const auto jar = standing_jar(id);
      if (!jar.ok()) return jar.error();
      if ((*jar)->inoculated) {
        return refused(fmt::format("jar {} got its {} mL of {} on {} already", id,
                                   trimmed((*jar)->dose_ml), (*jar)->culture,
                                   day_told(*(*jar)->inoculated)));
      }
    }
    return drawn(a.culture, a.dose_ml, a.jars.size());
  }
  Outcome inoculated(const std::string& id) const {
    const auto jar = standing_jar(id);
    if (!jar.ok()) return jar.error();
    if (!(*jar)->inoculated) {
      return refused(
          fmt::format("jar {0} is not inoculated by the record; enter that first: "
                      "tubwarden jar inoculate {0} --culture ID --dose 1mL",
                      id));
    }
    return not_before(*(*jar)->inoculated, id + " was inoculated");
  }
  Outcome operator()(const JarLookedAt& a) const {
    TRY(inoculated(a.jar));
    if (a.grown_pct >= 0.0 && a.grown_pct <= 100.0) return Done{};
    return wrong(fmt::format("{} % grown through: allowed are 0 to 100", trimmed(a.grown_pct)));
  }
  Outcome operator()(const JarShaken& a) const { return inoculated(a.jar); }
  Outcome operator()(const JarsMoved& a) const {
    TRY(each_once(a.jars));
    for (const std::string& id : a.jars) {
      const auto jar = standing_jar(id);
      if (!jar.ok()) return jar.error();
      if ((*jar)->shelf == a.shelf) {
        return refused(fmt::format("jar {} stands on {} already", id, a.shelf));
      }
      if (!(*jar)->stays.empty()) {
        TRY(not_before((*jar)->stays.back().from, id + " came to " + (*jar)->shelf));
      }
    }
    return on_shelf(a.shelf);
  }
  Outcome operator()(const JarContaminated& a) const {
    const auto jar = any_jar(a.jar);
    if (!jar.ok()) return jar.error();
    if ((*jar)->fate == JarFate::mixed) {
      return refused(fmt::format("jar {0} {1}; say it of the tub: tubwarden contaminated {2} ...",
                                 a.jar, end_told(**jar), (*jar)->into_tub));
    }
    if (!(*jar)->stands()) {
      return refused(fmt::format("jar {} {} already", a.jar, end_told(**jar)));
    }
    return words(a.seen, "what was seen");
  }
  Outcome operator()(const JarDiscarded& a) const {
    const auto jar = any_jar(a.jar);
    if (!jar.ok()) return jar.error();
    const JarFate fate = (*jar)->fate;
    if (fate == JarFate::mixed || fate == JarFate::discarded) {
      return refused(fmt::format("jar {} {} already", a.jar, end_told(**jar)));
    }
    TRY(not_before((*jar)->contaminated.value_or((*jar)->added),
                   a.jar + " was found contaminated"));
    return words(a.why, "the reason");
  }
  Outcome operator()(const SubstrateMade& a) const {
    TRY(is_new(s.mixes, a.mix, "substrate"));
    TRY(in_range(a.dry_kg, kSubstrateKg, "dry substrate", "kg"));
    if (a.water_kg >= 0.0 && a.water_kg <= 10.0 * a.dry_kg) return words(a.of, "the recipe");
    return wrong(fmt::format("{} kg of water to {} kg dry: allowed are 0 to ten times the dry mass",
                             trimmed(a.water_kg), trimmed(a.dry_kg)));
  }
  Outcome operator()(const TubSpawned& a) const {
    TRY(good_id(a.batch, "batch"));
    TRY(each_once(a.jars));
    for (const std::string& id : a.jars) TRY(may_be_mixed(id));
    if (const auto bed = s.beds.find({a.tub, a.batch});
        bed != s.beds.end() && bed->second.spawned) {
      return refused(
          fmt::format("{} was filled with batch {} on {}; name a new batch in its file, "
                      "or take it back with: tubwarden undo ENTRY",
                      a.tub, a.batch, day_told(*bed->second.spawned)));
    }
    TRY(in_range(a.substrate_kg, kSubstrateKg, "substrate", "kg"));
    if (a.dry_kg && !(*a.dry_kg > 0.0 && *a.dry_kg <= a.substrate_kg)) {
      return wrong(
          fmt::format("{} kg dry in {} kg of substrate: allowed is more than 0, at most the "
                      "whole",
                      trimmed(*a.dry_kg), trimmed(a.substrate_kg)));
    }
    if (a.surface_m2) TRY(in_range(*a.surface_m2, kSurfaceM2, "a surface", "m2"));
    if (a.mix.empty()) return Done{};
    const auto mix = s.mixes.find(a.mix);
    if (mix == s.mixes.end()) {
      return unknown_in(s.mixes, a.mix, "substrate",
                        "enter it first: tubwarden substrate make ID --dry 2kg --water 3L");
    }
    return not_before(mix->second.at, a.mix + " was made");
  }
  Outcome may_be_mixed(const std::string& id) const {
    const auto jar = any_jar(id);
    if (!jar.ok()) return jar.error();
    if ((*jar)->contaminated) {
      return refused(
          fmt::format("jar {} {} and is never mixed; leave it out", id, end_told(**jar)));
    }
    if ((*jar)->fate == JarFate::mixed) {
      return refused(fmt::format("jar {} {} already; leave it out", id, end_told(**jar)));
    }
    return inoculated(id);
  }
  Outcome operator()(const TubCased& a) const {
    const auto bed = filled(a.tub, a.batch);
    if (!bed.ok()) return bed.error();
    if ((*bed)->cased) {
      return refused(fmt::format("{} was cased on {} already", a.tub, day_told(*(*bed)->cased)));
    }
    if (a.depth_mm) TRY(in_range(*a.depth_mm, kCasingMm, "a casing", "mm"));
    return words(a.with, "the casing");
  }
  Outcome operator()(const PinsSeen& a) const {
    const auto bed = filled(a.tub, a.batch);
    return bed.ok() ? in_range(a.size_mm, kPinMm, "a pin", "mm") : bed.error();
  }
  Outcome cropping(const Bed& bed) const {
    for (const PhaseSpan& span : bed.phases) {
      if (span.cropping && span.from <= at) return Done{};
    }
    const PhaseSpan* phase = bed.phase_at(at);
    const std::string stands = phase ? fmt::format("{} was in {} then, since {}", bed.tub,
                                                   phase->phase, day_told(phase->from))
                                     : fmt::format("{} was in no phase then", bed.tub);
    return refused(
        fmt::format("{}: nothing is picked before fruiting. Say the phase first: "
                    "tubwarden phase {} fruiting; or the right day with --on",
                    stands, bed.tub));
  }
  Outcome operator()(const Picked& a) const {
    const auto bed = filled(a.tub, a.batch);
    if (!bed.ok()) return bed.error();
    TRY(cropping(**bed));
    TRY(in_range(a.grams, kPickedG, "a harvest", "g"));
    if ((*bed)->substrate_kg > 0.0 && a.grams > kPickedShare * 1000.0 * (*bed)->substrate_kg) {
      return wrong(
          fmt::format("{} g at once is more than half of the {} kg of substrate in {}; is "
                      "it g?",
                      trimmed(a.grams, 0), trimmed((*bed)->substrate_kg), a.tub));
    }
    if (a.count && !(*a.count >= 1.0 && *a.count <= 100'000.0)) {
      return wrong(fmt::format("{} mushrooms: allowed are 1 to 100000", trimmed(*a.count)));
    }
    return Done{};
  }
  Outcome operator()(const FlushCleaned& a) const {
    const auto bed = filled(a.tub, a.batch);
    if (!bed.ok()) return bed.error();
    if (!(*bed)->flushes.empty() && !(*bed)->flushes.back().picks.empty() &&
        !(*bed)->flushes.back().cleaned) {
      return Done{};
    }
    return refused(
        fmt::format("{0} has no flush that is picked and not cleaned; enter the harvest "
                    "first: tubwarden harvest {0} 400g",
                    a.tub));
  }
  Outcome operator()(const TubContaminated& a) const {
    const auto bed = filled(a.tub, a.batch);
    return bed.ok() ? words(a.seen, "what was seen") : bed.error();
  }
  Outcome operator()(const Observed& a) const {
    if (a.text.empty()) return wrong("a note needs words");
    return words(a.text, "a note");
  }
  Outcome operator()(const UpkeepDone& a) const { return words(a.of, "a name"); }
  Outcome operator()(const Undone&) const { return Done{}; }  // judged by the whole book
};

}  // namespace

Outcome GrowBook::judge(const GrowAct& act, WallTime at, WallTime now, const GrowSite& site) const {
  if (at > now + kAhead) {
    return wrong(fmt::format("{} lies in the future; now it is {}", rfc3339(at).substr(0, 16),
                             rfc3339(now).substr(0, 16)));
  }
  if (const auto* undo = std::get_if<Undone>(&act)) return judge_undo(*undo, now, site);
  return std::visit(GrowJudge{{state_, at, site}}, act);
}

/// An act may go when all that came after it could still have been done.
Outcome GrowBook::judge_undo(const Undone& undo, WallTime now, const GrowSite& site) const {
  const GrowEntry* gone = find(undo.entry);
  if (!gone) {
    return Error{ErrorCode::not_found,
                 fmt::format("entry {} is no act of the grow; tubwarden trace ID shows the entries "
                             "that can be taken back",
                             undo.entry)};
  }
  if (is_undone(undo.entry)) {
    return refused(fmt::format("entry {} was taken back already", undo.entry));
  }
  if (std::holds_alternative<Undone>(gone->act)) {
    return refused(fmt::format("entry {} took another one back; enter that one anew", undo.entry));
  }
  GrowBook with, without;
  for (const Told& told : phases_) {
    with.phase(told.tub, told.batch, told.span);
    without.phase(told.tub, told.batch, told.span);
  }
  for (std::size_t i = 0; i < entries_.size(); ++i) {
    const GrowEntry& entry = entries_[i];
    if (!stands(i) || std::holds_alternative<Undone>(entry.act)) continue;
    if (&entry != gone) {
      // What would be refused today in any case, because its shelf is gone, builds on nothing.
      if (!without.judge(entry.act, entry.at, now, site).ok() &&
          with.judge(entry.act, entry.at, now, site).ok()) {
        return refused(
            fmt::format("entry {} cannot go before entry {} ({}) is taken back, which "
                        "builds on it",
                        undo.entry, entry.entry, told(entry.act)));
      }
      without.apply(entry);
    }
    with.apply(entry);
  }
  return Done{};
}

#undef TRY

}  // namespace tubwarden
