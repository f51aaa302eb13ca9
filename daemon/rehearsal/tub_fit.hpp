// The model's figures found in a tub's own history: what its readings say of leak, sensors, mist,
// fan, casing, crop and walls, each with how sure it is. Method: docs/model.md, "Fitted to a tub".
// Threading: pure; takes seconds for a day of readings. Failure: a history that is too short, too
// sparse or too quiet is an Error that says what is missing; a figure that it cannot tell is one of
// the answer, marked so.
#pragma once

#include <array>
#include <optional>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "core/chamber/chamber_plan.hpp"
#include "rehearsal/model.hpp"

namespace tubwarden::rehearsal {

/// Times in seconds since the history's begin.
struct HeardReading {
  double at_s = 0.0;
  Quantity quantity = Quantity::humidity;
  double value = 0.0;
};
struct HeardRun {
  std::size_t actuator = 0;
  Level level = kRun;
  double from_s = 0.0, to_s = 0.0;
};
struct TubHistory {
  double length_s = 0.0;
  double second_of_day = 0.0;
  std::vector<HeardReading> readings;  ///< by time
  std::vector<HeardRun> runs;          ///< by begin
};

/// What is known without the history.
struct FitOrder {
  ChamberPlan chamber;
  ModelParameters usual;  ///< what stands in the tub, its net air, and a usual figure for the rest
  RoomDay room;
  /// Whether the room's temperature and humidity are told, and not assumed.
  bool room_told = false;
  std::optional<bool> heats_substrate{};  ///< as Plant has it
};

enum class FitOf {
  leak,             ///< air changes an hour, lid on
  mist,             ///< g/h of all misters that ran
  fan,              ///< m3/h
  dead_time,        ///< s until a sensor shows anything
  humidity_lag,     ///< s
  temperature_lag,  ///< s
  co2_lag,          ///< s
  droplet_life,     ///< s x (1 - RH)
  evaporation,      ///< of the casing, W/(m2 K)
  co2,              ///< g/h of the crop at 16 C
  wall_loss,        ///< W/K through the walls' outside
  bed_loss,         ///< W/K of the substrate to the room
  room_celsius,     ///< its mean
  room_swing,       ///< C, half of the day's range
  room_humidity,    ///< % RH at the mean
  bed_start,        ///< of the substrate at the begin, C: found beside the others, and not told
};
inline constexpr std::size_t kFitOf = 16;
/// For JSON: "leak_per_h", "mist_g_h", ...
std::string_view key_of(FitOf of);
/// For a page: "leak", and its unit "changes/h".
std::string_view words_of(FitOf of);
std::string_view unit_of(FitOf of);

struct FittedFigure {
  FitOf of = FitOf::leak;
  bool told = false;  ///< by this history; else `value` and its ends say what is believed anyway
  double value = 0.0;
  double low = 0.0, high = 0.0;  ///< two standard deviations down and up
  double usual = 0.0;            ///< of the model, or by the configuration
};

/// How a quantity's readings and the fitted model differ.
struct FitMisfit {
  std::size_t readings = 0;
  double rms = 0.0;  ///< kept unit
  /// Readings that tell as much as one that knew nothing of its neighbours: errors are widened by
  /// its root.
  double alike = 1.0;
};

struct TubFit {
  std::vector<FittedFigure> figures;  ///< those that have a part in this tub
  std::array<FitMisfit, kQuantities> misfit;
  ModelParameters model;          ///< with what was told; the rest as usual
  std::vector<double> strengths;  ///< by actuator
  double counted_s = 0.0;         ///< of the history; its first part only sets the stage
  int rounds = 0;

  const FittedFigure* of(FitOf of) const;
};

/// The shortest history that is fitted, what of its begin is not counted, and the fewest readings.
inline constexpr double kFitShortestS = 2 * 3600.0;
inline constexpr double kFitLongestS = 7 * 86400.0;
inline constexpr double kFitStageS = 40 * 60.0;
inline constexpr std::size_t kFitReadingsLeast = 200;
inline constexpr std::size_t kFitReadingsMost = 60'000;
inline constexpr std::size_t kFitRunsLeast = 5;

Result<TubFit> fit_tub(const FitOrder& order, const TubHistory& history);

}  // namespace tubwarden::rehearsal
