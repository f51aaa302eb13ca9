#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "programs/cli/rehearse.hpp"

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

std::string quantity_rows(const std::vector<Side>& sides, const Look& look) {
  std::string rows;
  for (Quantity q : kAllQuantities) {
    bool first = true;
    for (const Side& side : sides) {
      const QuantityTally& tally = side.phase->quantities[index_of(q)];
      if (tally.true_s.all <= 0.0) continue;
      const std::string word =
          q == Quantity::substrate_temperature ? "substrate" : std::string(word_of(q));
      rows +=
          fmt::format("  {}{}{}{}{}{}{}\n", padded(first ? word : "", 16),
                      padded(first && tally.band ? band_text(q, *tally.band) : "", 16),
                      padded(side.control, side.control.empty() ? 0 : 11),
                      right(share_text(tally.true_s), 8), right(share_text(tally.sensed), 9),
                      right(beyond_text(q, tally.over), 8), right(beyond_text(q, tally.under), 8));
      first = false;
    }
  }
  if (rows.empty()) return "";
  const bool several = sides.size() > 1;
  return inked(fmt::format("  {}{}{}{}{}{}\n", padded("in band", 16), padded("the band", 16),
                           padded(several ? "control" : "", several ? 11 : 0), right("true", 8),
                           right("sensed", 9), right("over", 8) + right("under", 8)),
               Ink::faint, look) +
         rows;
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

std::string lines(const char* head, const std::vector<Side>& sides,
                  std::string (*text)(const Side&), const Look& look) {
  std::string out;
  for (const Side& side : sides) {
    const std::string told = text(side);
    if (told.empty()) continue;
    const std::string who = side.control.empty() ? "" : padded(side.control, 11);
    out += beside("  " + padded(out.empty() ? head : "", 10) + who, told, Ink::plain, look);
  }
  return out;
}

std::string phase_part(const std::vector<Side>& sides, bool leads, const Look& look) {
  const PhaseTally& phase = *sides.front().phase;
  std::string part = inked(
      fmt::format("{}, day {} to {} ({})\n", phase.phase, static_cast<int>(days_of(phase.from)) + 1,
                  static_cast<int>(std::ceil(days_of(phase.to))), spoken(phase.lasted())),
      Ink::strong, look);
  part += quantity_rows(sides, look);
  if (leads) {
    part += lines("water", sides, water_text, look);
    part += lines("energy", sides, energy_text, look);
    part += lines("starts", sides, starts_text, look);
  }
  return part + lines("alerts", sides, alerts_text, look);
}

std::string tub_part(const Rehearsed& r, std::size_t air, std::size_t tub, const Look& look) {
  const PlayedAir& played = r.played.airs[air];
  const TubTally& tally = played.tubs[tub];
  const TubPlan* plan = r.grow.tub(tally.tub);
  std::string place = played.chamber.id == tally.tub ? "its own air" : "in " + played.chamber.id;
  if (tally.leads && played.tubs.size() > 1) place += ", which it leads";
  std::string head = fmt::format("{}, {}", tally.tub, place);
  if (plan != nullptr) {
    head += fmt::format(", batch {}, profile {}", plan->batch, plan->profile->name);
  }
  std::string part = inked(clean(head, look) + "\n", Ink::strong, look);
  if (!tally.leads) {
    part += "  judged by its own phase; the air is kept for " + played.tubs.front().tub + "\n";
  }
  for (std::size_t p = 0; p < tally.phases.size(); ++p) {
    std::vector<Side> sides = {{"", &played, &tally.phases[p]}};
    if (r.beside) {
      sides.front().control = name_of(played.chamber.control);
      const PlayedAir& other = r.beside->airs[air];
      sides.push_back(
          {std::string(name_of(other.chamber.control)), &other, &other.tubs[tub].phases[p]});
    }
    part += "\n" + phase_part(sides, tally.leads, look);
  }
  return part;
}

}  // namespace

std::string rehearsing(const std::string& air, double done) {
  return fmt::format("rehearsing {}: {:.0f} %", air, 100.0 * done);
}

std::string fault_words(const FaultLine& fault) {
  const auto into = duration_cast<minutes>(fault.at % Duration(hours(24))).count();
  std::string where = fault.chamber;
  if (!fault.part.empty()) where += "/" + fault.part;
  return fmt::format("{}{}{}, day {} {:02d}:{:02d} for {}", fault.fault,
                     where.empty() ? "" : " of ", where, fault.at / Duration(hours(24)) + 1,
                     into / 60, into % 60, spoken(fault.lasts));
}

std::string rehearsed_page(const Rehearsed& r, const Look& look) {
  std::string page = fmt::format("{}: {} rehearsed on a model of its tubs, seed {}\n",
                                 clean(r.site, look), spoken(r.length), r.seed);
  for (std::size_t air = 0; air < r.played.airs.size(); ++air) {
    for (std::size_t tub = 0; tub < r.played.airs[air].tubs.size(); ++tub) {
      page += "\n" + tub_part(r, air, tub, look);
    }
  }
  if (!r.faults.empty()) page += "\n" + inked("Faults\n", Ink::strong, look);
  for (const FaultLine& fault : r.faults) page += "  - " + fault_words(fault) + "\n";
  page += "\n" + inked("Assumed\n", Ink::strong, look);
  for (const std::string& text : r.assumed) {
    page += beside("  - ", clean(text, look), Ink::plain, look);
  }
  return page;
}

}  // namespace tubwarden::cli
