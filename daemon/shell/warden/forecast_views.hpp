// What is foreseen of a jar or a bed, as the control socket tells it: the case out of book, profile
// and past warmth, and the forecast as JSON. For the files of this room only.
// Threading: the loop's thread. Failure: what cannot be foreseen says why, in `missing`.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "core/forecast/colonization.hpp"
#include "core/forecast/pick_clock.hpp"
#include "shell/warden/forecast_past.hpp"

namespace tubwarden {

/// Where a jar stood until `now`; none where no shelf was noted.
std::vector<StoodOn> stays_of(const Jar& jar, WallTime now);

/// The flush of a bed that the pick clock is about: the newest with pins; nothing without.
const Flush* flush_with_pins(const Bed& bed);

/// Nothing where there is no forecast of it.
std::optional<ColonizationForecast> forecast_of(const Warden::State& s, const Jar& jar,
                                                const PastWarmth& past, WallTime now);
/// By the newest pins, as of the first pick where it was picked; nothing without pins.
std::optional<PickForecast> forecast_of(const Warden::State& s, const Bed& bed,
                                        const PastWarmth& past, WallTime now);

nlohmann::ordered_json jar_foreseen(const Warden::State& s, const Jar& jar, const PastWarmth& past,
                                    WallTime now);
nlohmann::ordered_json bed_foreseen(const Warden::State& s, const Bed& bed, const PastWarmth& past,
                                    WallTime now);

}  // namespace tubwarden
