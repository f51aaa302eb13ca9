#include "rehearsal/probe.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {

double Probe::sample(const ChamberModel& model) {
  double shown = model.lagged(quantity_);
  if (trait_.noise > 0.0) shown += trait_.noise * dice_.normal();
  if (trait_.quantum > 0.0) shown = std::round(shown / trait_.quantum) * trait_.quantum;
  switch (quantity_) {
    case Quantity::humidity:
      return std::clamp(shown, 0.0, 100.0);
    case Quantity::co2:
      return std::max(shown, 0.0);
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return shown;
  }
  ENSURE(false);
}

}  // namespace tubwarden::rehearsal
