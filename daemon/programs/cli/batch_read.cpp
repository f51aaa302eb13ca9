#include "programs/cli/batch_read.hpp"

#include <algorithm>
#include <map>
#include <tuple>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "settings/stamped_profile.hpp"

namespace tubwarden::cli {
namespace {

/// Of a chart of A4's width, one point.
constexpr double kPointsWanted = 700.0;
/// The daemon answers so many rows of a time line, the newest.
constexpr std::size_t kRowsAnswered = 1000;

std::optional<WallTime> time_at(const Json& object, const char* name) {
  return parse_rfc3339(text(object, name));
}

std::optional<Quantity> quantity_at(const Json& object) {
  for (Quantity q : kAllQuantities) {
    if (name_of(q) == text(object, "quantity")) return q;
  }
  return std::nullopt;
}

void take_band(ReportQuantity& kept, const PhasePlan* plan) {
  if (!plan) return;
  const auto& of = plan->of(kept.quantity);
  if (!of || !of->keep) return;
  if (of->keep->form != Keep::Form::below) kept.band_low = of->keep->low;
  if (of->keep->form != Keep::Form::above) kept.band_high = of->keep->high;
}

ReportPhase phase_of(const Json& row, const Profile* profile, WallTime now) {
  ReportPhase phase;
  phase.tub = text(row, "tub");
  phase.phase = text(row, "phase");
  phase.flush = static_cast<int>(number(row, "flush").value_or(0.0));
  phase.from = time_at(row, "from").value_or(now);
  phase.to = time_at(row, "to");
  for (const Json& of : list(row, "quantities")) {
    const auto q = quantity_at(of);
    if (!q) continue;
    ReportQuantity kept;
    kept.quantity = *q;
    kept.known_h = number(of, "live_s").value_or(0.0) / 3600.0;
    const double banded_s = number(of, "banded_s").value_or(0.0);
    kept.banded_h = banded_s / 3600.0;
    if (banded_s > 0.0) {
      kept.inside_pct = 100.0 * number(of, "inside_s").value_or(0.0) / banded_s;
    }
    kept.mean = number(of, "mean").value_or(0.0);
    kept.least = number(of, "least").value_or(0.0);
    kept.most = number(of, "most").value_or(0.0);
    kept.at_least = yes(of, "at_least");
    take_band(kept, profile ? profile->find(phase.phase) : nullptr);
    phase.quantities.push_back(kept);
  }
  for (const Json& of : list(row, "outputs")) {
    phase.outputs_h.emplace_back(text(of, "id"), number(of, "run_s").value_or(0.0) / 3600.0);
  }
  return phase;
}

ReportJar jar_of(const Json& row) {
  ReportJar jar;
  jar.id = text(row, "id");
  jar.batch = text(row, "batch");
  jar.grain = text(row, "grain");
  jar.culture = text(row, "culture");
  jar.run = text(row, "run");
  jar.fate = text(row, "fate");
  jar.fate_text = text(row, "fate_text");
  jar.into_tub = text(row, "into_tub");
  jar.into_batch = text(row, "into_batch");
  jar.dose_ml = number(row, "dose_ml").value_or(0.0);
  jar.inoculated = time_at(row, "inoculated");
  jar.shaken = time_at(row, "shaken");
  jar.fate_at = time_at(row, "fate_at");
  jar.days = number(row, "days").value_or(0.0);
  // A jar that was thrown away because of what was seen in it is a contaminated one.
  if (jar.fate == "discarded" && time_at(row, "contaminated")) jar.fate = "contaminated";
  for (const Json& look : list(row, "looks")) {
    if (const auto at = time_at(look, "at")) {
      jar.looks.push_back({*at, number(look, "grown_pct").value_or(0.0)});
    }
  }
  return jar;
}

ReportBed bed_of(const Json& row) {
  ReportBed bed;
  bed.tub = text(row, "tub");
  bed.mix = text(row, "mix");
  bed.spawned = time_at(row, "spawned");
  bed.cased = time_at(row, "cased");
  bed.contaminated = time_at(row, "contaminated");
  for (const Json& jar : list(row, "jars")) {
    if (jar.is_string()) bed.jars.push_back(jar.get<std::string>());
  }
  bed.substrate_kg = number(row, "substrate_kg").value_or(0.0);
  bed.dry_kg = number(row, "dry_kg");
  bed.surface_m2 = number(row, "surface_m2");
  for (const Json& of : list(row, "flushes")) {
    ReportFlush flush;
    flush.number = static_cast<int>(number(of, "number").value_or(0.0));
    flush.pins = time_at(of, "pins");
    flush.pin_mm = number(of, "pin_mm").value_or(0.0);
    for (const Json& pick : list(of, "picks")) {
      if (const auto at = time_at(pick, "at")) {
        flush.picks.push_back({*at, number(pick, "grams").value_or(0.0)});
      }
    }
    for (const ReportPick& pick : flush.picks) flush.grams += pick.grams;
    bed.grams += flush.grams;
    bed.flushes.push_back(std::move(flush));
  }
  return bed;
}

ReportCulture culture_of(const Json& row) {
  return {text(row, "id"),
          text(row, "strain"),
          text(row, "source"),
          number(row, "millilitres").value_or(0.0),
          number(row, "used_ml").value_or(0.0),
          number(row, "left_ml").value_or(0.0)};
}

/// The time line, each act of the grow at the time when it was done, with its note and photo.
std::vector<ReportAct> acts_of(const Json& timeline, const Json& acts) {
  std::map<double, const Json*> by_entry;
  for (const Json& act : acts) by_entry[number(act, "entry").value_or(-1.0)] = &act;
  std::vector<ReportAct> told;
  for (const Json& row : timeline) {
    ReportAct act;
    act.at = time_at(row, "at").value_or(WallTime{});
    act.at_is_known = yes(row, "clock_set");
    act.who = text(row, "who");
    act.tub = text(row, "tub");
    act.kind = text(row, "kind");
    act.text = text(row, "text");
    if (const auto of = by_entry.find(number(row, "id").value_or(-2.0)); of != by_entry.end()) {
      act.at = time_at(*of->second, "done").value_or(act.at);
      act.note = text(*of->second, "note");
      act.photo = text(*of->second, "photo");
      if (yes(*of->second, "undone")) act.text += " (taken back)";
    }
    told.push_back(std::move(act));
  }
  std::stable_sort(told.begin(), told.end(),
                   [](const ReportAct& a, const ReportAct& b) { return a.at < b.at; });
  return told;
}

/// Water given by hand, and the phases with what they kept.
void take_kept(BatchReport& report, const Json& rows, const Profile* profile) {
  for (const Json& row : rows) {
    report.phases.push_back(phase_of(row, profile, report.made));
    const double water_ml = number(row, "watered_ml").value_or(0.0);
    for (ReportBed& bed : report.beds) {
      if (bed.tub == text(row, "tub") && water_ml > 0.0) {
        bed.water_l = bed.water_l.value_or(0.0) + water_ml / 1000.0;
      }
    }
  }
  std::stable_sort(report.phases.begin(), report.phases.end(), [](const auto& a, const auto& b) {
    return std::tie(a.tub, a.from) < std::tie(b.tub, b.from);
  });
}

/// Where no climate was kept yet, the phases alone.
void take_phases(BatchReport& report, const Json& beds) {
  for (const Json& bed : beds) {
    const std::size_t first = report.phases.size();
    for (const Json& span : list(bed, "phases")) {
      ReportPhase phase;
      phase.tub = text(bed, "tub");
      phase.phase = text(span, "phase");
      phase.flush = static_cast<int>(number(span, "flush").value_or(0.0));
      phase.from = time_at(span, "from").value_or(report.made);
      if (report.phases.size() > first) report.phases.back().to = phase.from;
      report.phases.push_back(std::move(phase));
    }
  }
}

Outcome take_history(BatchReport& report, const AskDaemon& ask, Zone zone) {
  const auto stays = ask_stays(ask, report.batch, report.begins(), report.made);
  if (!stays.ok()) return stays.error();
  const double each_s = seconds_of(report.ends() - report.begins()) / kPointsWanted;
  const Duration every = seconds(std::max<long>(300, static_cast<long>(each_s)));
  std::map<std::pair<std::string, Quantity>, ReportStrip> strips;
  std::map<std::pair<std::string, Quantity>, std::string> sensors;
  for (const Stay& stay : stays->stays) {
    const Outcome read = read_stay(ask, stay, every, zone, [&](const HistoryPiece& piece) {
      for (const HistoryOf& of : piece.series) {
        const auto key = std::make_pair(stay.chamber, of.quantity);
        // Of several sensors of one quantity the first one is drawn.
        if (sensors.try_emplace(key, of.sensor).first->second != of.sensor) continue;
        ReportStrip& strip = strips[key];
        strip.chamber = stay.chamber;
        strip.quantity = of.quantity;
        strip.values.insert(strip.values.end(), of.values.begin(), of.values.end());
      }
      return Outcome(Done{});
    });
    if (!read.ok()) return read;
  }
  for (auto& [key, strip] : strips) {
    std::stable_sort(strip.values.begin(), strip.values.end(),
                     [](const auto& a, const auto& b) { return a.at < b.at; });
    // Tubs of one air have the same values, once each.
    strip.values.erase(std::unique(strip.values.begin(), strip.values.end(),
                                   [](const auto& a, const auto& b) { return a.at == b.at; }),
                       strip.values.end());
    report.strips.push_back(std::move(strip));
  }
  return Done{};
}

/// An answer as an object; a batch without kept climate has none, and that is no error.
Result<Json> asked_of(const AskDaemon& ask, const char* what, const std::string& batch,
                      const char* must, bool may_lack) {
  const auto answer = ask(what, dumped({{"batch", batch}}));
  if (!answer.ok()) {
    if (may_lack && answer.error().code == ErrorCode::not_found) return Json::object();
    return answer.error();
  }
  return parsed(*answer, must);
}

}  // namespace

Result<BatchReport> read_batch(const AskDaemon& ask, const std::string& batch, WallTime now,
                               Zone zone, bool charts) {
  const auto grow = asked_of(ask, "report", batch, "beds", false);
  if (!grow.ok()) return grow.error();
  const auto timeline = asked_of(ask, "batch", batch, "rows", true);
  if (!timeline.ok()) return timeline.error();
  const auto kept = asked_of(ask, "kept", batch, "rows", true);
  if (!kept.ok()) return kept.error();

  BatchReport report;
  report.site = text(*grow, "site");
  report.batch = batch;
  report.profile = text(*grow, "profile");
  report.made = now;
  const auto profile = profile_of_text(text(*grow, "profile_text"));
  for (const Json& row : list(*grow, "beds")) report.beds.push_back(bed_of(row));
  for (const Json& row : list(*grow, "jars")) report.jars.push_back(jar_of(row));
  for (const Json& row : list(*grow, "cultures")) report.cultures.push_back(culture_of(row));
  take_kept(report, list(*kept, "rows"), profile ? &*profile : nullptr);
  if (report.phases.empty()) take_phases(report, list(*grow, "beds"));
  report.acts = acts_of(list(*timeline, "rows"), list(*grow, "acts"));
  report.cut = list(*timeline, "rows").size() >= kRowsAnswered;
  add_forecasts(report, profile ? &*profile : nullptr);
  if (charts && !report.phases.empty()) {
    if (const Outcome read = take_history(report, ask, zone); !read.ok()) return read.error();
  }
  return report;
}

}  // namespace tubwarden::cli
