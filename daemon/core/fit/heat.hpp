// The fit check's sums of heat: what a chamber loses to the room, and what a heater holds.
// The figures are the model's (docs/model.md), assumed and not measured: a plastic tub with a lid.
// Threading: pure functions. Failure: ENSURE on a volume that is not positive.
#pragma once

#include "core/air/units.hpp"

namespace tubwarden::fit {

inline constexpr double kWallM2At60L = 0.9;        ///< inner wall of 60 L; area by volume^(2/3)
inline constexpr double kWallInsideWM2K = 4.0;     ///< convection inside
inline constexpr double kWallOutsideWM2K = 6.0;    ///< convection and radiation outside
inline constexpr double kLeakPerHour = 3.5;        ///< air changes of a lid with filtered holes
inline constexpr double kSubstrateToRoomWK = 0.8;  ///< through the bottom of one tub
/// Substrate that works stands 1 to 3 C above its air (common practice, no source; a ceiling
/// judged from the air takes the upper one).
inline constexpr double kSubstrateAboveAirMin = 1.0;
inline constexpr double kSubstrateAboveAirMax = 3.0;

/// W a K between chamber and room: walls, leak, and the bottoms of `tubs` with substrate in them.
double loss_w_k(Litres air, int tubs);

}  // namespace tubwarden::fit
