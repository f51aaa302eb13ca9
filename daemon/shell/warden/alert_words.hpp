// An alert in the words of a message: for a phone, a few lines. For the files of this room only.
// Threading: pure functions. Failure: none.
#pragma once

#include <string>
#include <string_view>

#include "core/alert/causes.hpp"
#include "ports/clock.hpp"

namespace tubwarden {

/// "humidity_low" as a grower reads it.
std::string in_words(std::string cause);
/// "Since 10:03." by the wall clock where it can be believed; for one that is over how long it
/// lasted.
std::string since_when(const Clock& clock, Instant since, bool over);

/// What a cause means, what to do, and how long one has; words for any where it is in no table.
struct CauseWords {
  std::string_view means, steps, have;
  bool text_says_steps = true;
};
CauseWords words_for(std::string_view cause);

}  // namespace tubwarden
