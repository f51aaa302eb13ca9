// The fit check's sums of bands: what a sensor can tell apart, and where a ceiling meets a band.
// Threading: pure functions. Failure: none.
#pragma once

#include "core/climate/phase_plan.hpp"

namespace tubwarden::fit {

/// How a reading in the middle of a band proves that the air is in it.
enum class Telling {
  tells,     ///< the band is at least twice the accuracy wide: it does
  doubtful,  ///< the air may stand beyond an edge
  blind,     ///< the band is narrower than the accuracy: nearly any air may read so
};
/// For a sensor of +- `accuracy`.
Telling telling(const Band& band, double accuracy);

enum class Ceiling { clear, above_middle, locks };
/// A ceiling on the substrate's temperature over the band that the substrate is kept in. `locks`:
/// it lies at or below the middle, to which the heater runs. The band of the substrate over a kept
/// air is that air's, 1 to 3 C up.
Ceiling ceiling_over(const Band& substrate, double ceiling_c);

}  // namespace tubwarden::fit
