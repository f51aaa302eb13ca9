// The profile that a batch carries with it, as text, as the plan it is.
// Threading: pure. Failure: nothing for a text that is no profile of this version.
#pragma once

#include <optional>
#include <string>

#include "core/climate/phase_plan.hpp"

namespace tubwarden {

std::optional<Profile> profile_of_text(const std::string& text);

}  // namespace tubwarden
