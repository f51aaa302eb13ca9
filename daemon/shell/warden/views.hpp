// The warden's state as JSON, for the control socket. For the files of this room only.
// Threading: the loop's thread. Failure: none.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "shell/warden/warden_state.hpp"

namespace tubwarden {

/// As it is told: what no sensor tells is left out.
double rounded(double value, Quantity q);
double rounded(double value, Derived d);
nlohmann::ordered_json time_or_null(const Stamp& stamp);
/// The phases of its profile that a tub, or a shelf of jars, may enter; none without a profile.
std::vector<std::string> phases_of(const Tub& tub);
nlohmann::ordered_json status_view(const Warden::State& s);
nlohmann::ordered_json chambers_view(const Warden::State& s);
/// The water book of an air.
nlohmann::ordered_json water_view(const Chamber& chamber);
/// The alerts on the desk, the pressing ones first; or only those whose condition stands.
nlohmann::ordered_json alerts_view(const Warden::State& s, bool only_standing);
/// What is off while it is mended, each as in alerts_view, whether its condition stands or not.
nlohmann::ordered_json off_view(const Warden::State& s);
nlohmann::ordered_json outputs_view(const Warden::State& s);
nlohmann::ordered_json why_view(const Air& air, const std::string& actuator, Instant now);
nlohmann::ordered_json timeline_view(const std::vector<TimelineRow>& rows);

}  // namespace tubwarden
