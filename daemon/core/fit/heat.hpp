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
/// What heats the air pays all of it.
double loss_w_k(Litres air, int tubs);

/// Conduction from the core of a substrate to its surface, W/(m2 K).
inline constexpr double kCoreToSurfaceWM2K = 20.0;
/// What evaporation carries off a wet surface, W/(m2 K): 4 W/(m2 K) of convection by Lewis, 180
/// Pa/K (saturation at 24 C), 2545 J/g.
inline constexpr double kEvaporationWM2K = 12.6;

/// How far a heat mat under one tub lifts its substrate and its air over the room, K.
struct MatRise {
  double substrate = 0;
  double air = 0;
};
/// From the substrate heat goes through the bottom, and through the wet surface: convection warms
/// the air, and what evaporates condenses on the walls. `substrate_kg` > 0.
MatRise mat_rise(double watts, Litres air, double substrate_kg);

}  // namespace tubwarden::fit
