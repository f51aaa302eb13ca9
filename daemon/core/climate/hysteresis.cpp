#include "core/climate/hysteresis.hpp"

#include <algorithm>

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(Call call) {
  switch (call) {
    case Call::none:
      return "none";
    case Call::raise:
      return "raise";
    case Call::lower:
      return "lower";
  }
  ENSURE(false);
}

KeptBand kept_band(const Keep& keep, double room) {
  switch (keep.form) {
    case Keep::Form::between:
      return {{keep.low, keep.high}, true, true};
    case Keep::Form::above:
      return {{keep.low, 100.0}, true, false};
    // A room that is worse than the limit would turn the band inside out: then the limit itself.
    case Keep::Form::below:
      return {{std::min(room, keep.high), keep.high}, false, true};
  }
  ENSURE(false);
}

Call Hysteresis::judge(double value, const KeptBand& kept) {
  const double middle = kept.band.middle();
  if (call_ == Call::raise && (value >= middle || !kept.raises)) call_ = Call::none;
  if (call_ == Call::lower && (value <= middle || !kept.lowers)) call_ = Call::none;
  if (kept.raises && value < kept.raise_start()) call_ = Call::raise;
  if (kept.lowers && value > kept.lower_start()) call_ = Call::lower;
  return call_;
}

}  // namespace tubwarden
