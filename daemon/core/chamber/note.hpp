// How the files of this room that alert turn a change of a timer into an effect. Private to
// core/chamber. Threading: one owner. Failure: none.
#pragma once

#include <string>
#include <utility>

#include "base/quantity.hpp"
#include "base/text.hpp"
#include "core/alert/alert.hpp"
#include "core/chamber/chamber.hpp"

namespace tubwarden {

struct ToldAlert {
  AlertKey key;
  AlertRank rank;
  std::string text;
};

/// "88.1 %", "17 C", "1200 ppm".
inline std::string amount(double value, Quantity q) {
  return trimmed(value, q == Quantity::co2 ? 0 : 1) + " " + std::string(unit_of(q));
}

/// With hands in the tub nothing new is raised, and what stands keeps standing; a delay that was
/// running begins anew afterwards.
inline void keep_quiet(AlertTimer& timer) {
  if (!timer.raised()) timer.withdraw();
}

/// Adds a change to the effects; `tell` gives a ToldAlert, and is called only when there is one.
template <class Tell>
void note(Effects& effects, AlertTimer::Change change, const AlertTimer& timer, Tell tell) {
  if (change == AlertTimer::Change::none) return;
  ToldAlert told = tell();
  Alert alert{std::move(told.key), told.rank, std::move(told.text), timer.since()};
  effects.alerts.push_back(AlertChange{std::move(alert), change == AlertTimer::Change::raised});
}

}  // namespace tubwarden
