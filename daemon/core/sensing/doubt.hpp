// Why a reading is not believed: a closed set, each with its alert, its word and its advice.
// Threading: constants. Failure: none.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace tubwarden {

/// In the order of what is looked for first; a reading has one doubt at a time.
enum class Doubt : std::uint8_t {
  none,
  late,       ///< silent for much longer than its own rhythm
  jumping,    ///< every reading far from the one before: none is confirmed
  stuck,      ///< a run that should have moved it three quanta did not
  condensed,  ///< humidity at the top for long while the air says otherwise
  disagrees,  ///< the sensors of one quantity say different things
};

inline constexpr std::array<Doubt, 6> kAllDoubts = {
    Doubt::none, Doubt::late, Doubt::jumping, Doubt::stuck, Doubt::condensed, Doubt::disagrees};

/// The end of the alert's cause: "sensor_air_stuck". Empty where nothing is raised: a late sensor
/// turns stale, and that is raised.
std::string_view cause_of(Doubt doubt);
/// One word for a table: "stuck".
std::string_view word_of(Doubt doubt);
/// What a person can do, in one or two sentences. Empty for none.
std::string_view advice_for(Doubt doubt);

}  // namespace tubwarden
