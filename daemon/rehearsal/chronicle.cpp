#include "rehearsal/chronicle.hpp"

#include <algorithm>
#include <limits>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr double kEndless = std::numeric_limits<double>::infinity();

bool counts_energy(Effect effect) {
  return effect == Effect::heat || effect == Effect::cool || effect == Effect::light;
}

/// What a phase asks of itself, without a glide.
Bands bands_asked(const PhasePlan& phase) {
  Bands bands;
  for (Quantity q : kAllQuantities) {
    if (!phase.of(q) || !phase.of(q)->keep) continue;
    const Keep& keep = *phase.of(q)->keep;
    bands[index_of(q)] = Band{keep.form == Keep::Form::below ? -kEndless : keep.low,
                              keep.form == Keep::Form::above ? kEndless : keep.high};
  }
  return bands;
}

bool inside(const Band& band, double value) { return value >= band.low && value <= band.high; }

}  // namespace

bool PhaseTally::keeps_any() const {
  return std::any_of(quantities.begin(), quantities.end(),
                     [](const QuantityTally& q) { return q.band.has_value(); });
}

Chronicle::Chronicle(const WorldPlan& plan, const std::vector<Walk>& walks) {
  for (const ActuatorPlan& a : plan.chamber.actuators) {
    outputs_.push_back({a.effect, kRest, 0.0});
  }
  for (const Walk& walk : walks) {
    TubTally tally{walk.tub, walk.leads, {}};
    for (const Stage& stage : walk.stages) {
      PhaseTally phase;
      phase.phase = stage.phase;
      phase.from = stage.from;
      phase.to = stage.to;
      phase.runs.resize(outputs_.size());
      tally.phases.push_back(phase);
    }
    tubs_.push_back(tally);
    const auto found = std::find_if(plan.tubs.begin(), plan.tubs.end(),
                                    [&](const TubPlan& t) { return t.id == walk.tub; });
    ENSURE(found != plan.tubs.end());
    plans_.push_back(*found);
  }
  now_.resize(tubs_.size());
}

std::vector<TubTally> Chronicle::tubs_at(Duration end) const {
  std::vector<TubTally> tubs = tubs_;
  for (std::size_t t = 0; t < tubs.size(); ++t) {
    if (!now_[t].begun) continue;
    tubs[t].phases.resize(now_[t].phase + 1);
    tubs[t].phases.back().to = end;
  }
  return tubs;
}

PhaseTally* Chronicle::current(std::size_t tub) {
  return now_[tub].begun ? &tubs_[tub].phases[now_[tub].phase] : nullptr;
}

void Chronicle::passed(Duration at, double lasted_s, const std::array<double, kQuantities>& truth) {
  for (std::size_t t = 0; t < tubs_.size(); ++t) {
    PhaseTally* phase = current(t);
    if (phase == nullptr) continue;
    for (std::size_t q = 0; q < kQuantities; ++q) {
      const auto& band = now_[t].bands[q];
      if (!band) continue;
      QuantityTally& tally = phase->quantities[q];
      tally.true_s.all += lasted_s;
      if (inside(*band, truth[q])) {
        tally.true_s.in += lasted_s;
        if (!tally.reached) tally.reached = at - phase->from;
      } else if (tally.reached) {
        tally.over = std::max(tally.over, truth[q] - band->high);
        tally.under = std::max(tally.under, band->low - truth[q]);
      }
    }
    for (std::size_t i = 0; i < outputs_.size(); ++i) {
      const Output& o = outputs_[i];
      if (o.level == kRest) continue;
      const double run_s = lasted_s * o.level / kRun;
      phase->runs[i].run_s += run_s;
      phase->runs[i].amount += o.rate * run_s / (counts_energy(o.effect) ? 1000.0 : 3600.0);
    }
  }
}

void Chronicle::kept(Duration at, const Bands& bands) {
  for (std::size_t t = 0; t < tubs_.size(); ++t) {
    if (!tubs_[t].leads) continue;
    now_[t].bands = bands;
    PhaseTally* phase = current(t);
    if (phase == nullptr) continue;
    for (std::size_t q = 0; q < kQuantities; ++q) {
      if (bands[q] || at == phase->from) phase->quantities[q].band = bands[q];
    }
  }
}

void Chronicle::heard(Duration, std::size_t, Quantity quantity, double value) {
  for (std::size_t t = 0; t < tubs_.size(); ++t) {
    PhaseTally* phase = current(t);
    const auto& band = now_[t].bands[index_of(quantity)];
    if (phase == nullptr || !band) continue;
    Share& sensed = phase->quantities[index_of(quantity)].sensed;
    sensed.all += 1.0;
    if (inside(*band, value)) sensed.in += 1.0;
  }
}

void Chronicle::switched(Duration, std::size_t actuator, Level level, double rate) {
  Output& o = outputs_[actuator];
  if (o.level == kRest && level != kRest) {
    for (std::size_t t = 0; t < tubs_.size(); ++t) {
      if (PhaseTally* phase = current(t)) ++phase->runs[actuator].starts;
    }
  }
  o.level = level;
  o.rate = rate;
}

/// An alert of one tub counts there, one of the air or the site with who leads.
void Chronicle::alerted(Duration, const AlertChange& change) {
  if (!change.raised) return;
  std::size_t whose = 0;
  for (std::size_t t = 0; t < tubs_.size(); ++t) {
    if (tubs_[t].tub == change.alert.key.place) whose = t;
  }
  if (PhaseTally* phase = current(whose)) ++phase->alerts[change.alert.key.cause];
}

void Chronicle::entered(Duration at, const std::string& tub, const std::string& phase) {
  for (std::size_t t = 0; t < tubs_.size(); ++t) {
    if (tubs_[t].tub != tub) continue;
    if (now_[t].begun && now_[t].phase + 1 < tubs_[t].phases.size()) {
      tubs_[t].phases[now_[t].phase].to = at;
      ++now_[t].phase;
    }
    now_[t].begun = true;
    PhaseTally& entering = tubs_[t].phases[now_[t].phase];
    entering.from = at;
    if (!tubs_[t].leads) {
      const PhasePlan* asked = plans_[t].profile->find(phase);
      now_[t].bands = asked != nullptr ? bands_asked(*asked) : Bands{};
    }
    for (std::size_t q = 0; q < kQuantities; ++q) {
      entering.quantities[q].band = now_[t].bands[q];
    }
  }
}

void Chronicle::watered(Duration, double grams) {
  for (std::size_t t = 0; t < tubs_.size(); ++t) {
    if (!tubs_[t].leads) continue;
    if (PhaseTally* phase = current(t)) phase->watered_g += grams;
  }
}

}  // namespace tubwarden::rehearsal
