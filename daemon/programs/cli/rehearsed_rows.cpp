#include "programs/cli/rehearsed_rows.hpp"

#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"

namespace tubwarden::cli {
namespace {

using rehearsal::PhaseTally;
using rehearsal::PlayedAir;
using rehearsal::QuantityTally;
using rehearsal::RunTally;
using rehearsal::Share;
using rehearsal::TubTally;

/// One control's view of one phase.
struct Side {
  std::string control;  ///< empty: there is no other beside it
  const PlayedAir* air = nullptr;
  const PhaseTally* phase = nullptr;
};

double days_of(Duration d) { return seconds_of(d) / 86400.0; }

std::string share_text(const Share& share) {
  const auto of = share.of();
  return of ? fmt::format("{:.1f} %", 100.0 * *of) : "-";
}

int digits_of(Quantity q) { return q == Quantity::co2 ? 0 : 1; }

std::string beyond_text(Quantity q, double beyond) {
  return beyond <= 0.0 ? "-" : fmt::format("{:.{}f}", beyond, digits_of(q));
}

std::string band_text(Quantity q, const Band& band) {
  const std::string unit(unit_of(q));
  if (!std::isfinite(band.low)) return fmt::format("below {} {}", trimmed(band.high, 1), unit);
  if (!std::isfinite(band.high)) return fmt::format("above {} {}", trimmed(band.low, 1), unit);
  return fmt::format("{}..{} {}", trimmed(band.low, 1), trimmed(band.high, 1), unit);
}

std::string water_text(const Side& side) {
  double mist_g = 0.0;
  for (std::size_t i = 0; i < side.phase->runs.size(); ++i) {
    if (side.air->chamber.actuators[i].effect == Effect::humidify)
      mist_g += side.phase->runs[i].amount;
  }
  const double days = days_of(side.phase->lasted());
  return fmt::format("{:.1f} g a day misted, {:.0f} g a day given to the casing", mist_g / days,
                     side.phase->watered_g / days);
}

/// Of those whose rate is known; the others are named.
std::string energy_text(const Side& side) {
  double kj = 0.0;
  std::string of, unknown;
  for (std::size_t i = 0; i < side.phase->runs.size(); ++i) {
    const ActuatorPlan& a = side.air->chamber.actuators[i];
    if (a.effect != Effect::heat && a.effect != Effect::cool && a.effect != Effect::light) continue;
    std::string& names = a.rate ? of : unknown;
    names += (names.empty() ? "" : ", ") + a.id;
    if (a.rate) kj += side.phase->runs[i].amount;
  }
  std::string text;
  if (!of.empty()) {
    text = fmt::format("{:.0f} Wh a day by {}", kj / 3.6 / days_of(side.phase->lasted()), of);
  }
  if (!unknown.empty()) text += fmt::format("{}no rate: {}", text.empty() ? "" : "; ", unknown);
  return text;
}

std::string starts_text(const Side& side) {
  std::string text;
  for (std::size_t i = 0; i < side.phase->runs.size(); ++i) {
    const RunTally& run = side.phase->runs[i];
    const double days = days_of(side.phase->lasted());
    text += fmt::format("{}{} {:.0f} a day", i == 0 ? "" : ", ", side.air->chamber.actuators[i].id,
                        run.starts / days);
    if (run.run_s <= 0.0) continue;
    text +=
        fmt::format(" ({})", spoken(std::chrono::round<seconds>(from_seconds(run.run_s / days))));
  }
  return text;
}

std::string alerts_text(const Side& side) {
  int all = 0;
  std::string causes;
  for (const auto& [cause, count] : side.phase->alerts) {
    all += count;
    causes += fmt::format("{}{} {}", causes.empty() ? "" : ", ", cause, count);
  }
  return all == 0 ? "none" : fmt::format("{}: {}", all, causes);
}

void take_quantities(const std::vector<Side>& sides, PhaseRows& out) {
  for (Quantity q : kAllQuantities) {
    bool first = true;
    for (const Side& side : sides) {
      const QuantityTally& tally = side.phase->quantities[index_of(q)];
      if (tally.true_s.all <= 0.0) continue;
      const std::string word =
          q == Quantity::substrate_temperature ? "substrate" : std::string(word_of(q));
      out.quantities.push_back({first ? word : "",
                                first && tally.band ? band_text(q, *tally.band) : "", side.control,
                                share_text(tally.true_s), share_text(tally.sensed),
                                beyond_text(q, tally.over), beyond_text(q, tally.under)});
      first = false;
    }
  }
}

void take_facts(const std::vector<Side>& sides, const char* head, std::string (*text)(const Side&),
                PhaseRows& out) {
  bool first = true;
  for (const Side& side : sides) {
    const std::string told = text(side);
    if (told.empty()) continue;
    out.facts.push_back({first ? head : "", side.control, told});
    first = false;
  }
}

}  // namespace

std::string day_and_time(Duration at) {
  const Duration day = hours(24);
  const auto into = duration_cast<minutes>(at % day).count();
  return fmt::format("day {} {:02d}:{:02d}", at / day + 1, into / 60, into % 60);
}

std::string tub_title(const Rehearsed& r, std::size_t air, std::size_t tub) {
  const PlayedAir& played = r.played.airs[air];
  const TubTally& tally = played.tubs[tub];
  const TubPlan* plan = r.grow.tub(tally.tub);
  std::string place = played.chamber.id == tally.tub ? "its own air" : "in " + played.chamber.id;
  if (tally.leads && played.tubs.size() > 1) place += ", which it leads";
  std::string title = fmt::format("{}, {}", tally.tub, place);
  if (plan != nullptr) {
    title += fmt::format(", batch {}, profile {}", plan->batch, plan->profile->name);
  }
  return title;
}

PhaseRows phase_rows(const Rehearsed& r, std::size_t air, std::size_t tub, std::size_t phase) {
  const PlayedAir& played = r.played.airs[air];
  const TubTally& tally = played.tubs[tub];
  const PhaseTally& of = tally.phases[phase];
  std::vector<Side> sides = {{"", &played, &of}};
  if (r.beside) {
    sides.front().control = name_of(played.chamber.control);
    const PlayedAir& other = r.beside->airs[air];
    sides.push_back(
        {std::string(name_of(other.chamber.control)), &other, &other.tubs[tub].phases[phase]});
  }
  PhaseRows rows;
  rows.title =
      fmt::format("{}, day {} to {} ({})", of.phase, static_cast<int>(days_of(of.from)) + 1,
                  static_cast<int>(std::ceil(days_of(of.to))), spoken(of.lasted()));
  take_quantities(sides, rows);
  if (tally.leads) {
    take_facts(sides, "water", water_text, rows);
    take_facts(sides, "energy", energy_text, rows);
    take_facts(sides, "starts", starts_text, rows);
  }
  take_facts(sides, "alerts", alerts_text, rows);
  return rows;
}

}  // namespace tubwarden::cli
