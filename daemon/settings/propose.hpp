// Sensor lines proposed for topics that were heard: the configuration's own syntax, to be pasted
// under `sensors:` of a tub's air or a chamber. What is only a "maybe" is written as a comment: a
// guess must not control a tub because somebody pasted it. Threading: pure. Failure: none; a topic
// that the configuration cannot name is left out.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "core/sensing/guess.hpp"

namespace tubwarden {

struct HeardSensor {
  std::string topic;
  MessageGuess guess;
  std::optional<Duration> every;  ///< mean time between live messages; nothing: fewer than two
};

struct ProposedSensor {
  std::string id;
  std::string topic;
  bool sure = false;  ///< false: all of it is a comment
  /// A temperature in it whose place nobody said: written as air, with a word beside it.
  bool place_unsaid = false;
  std::string yaml;  ///< the item, its dash indented by four; ends with a newline
};

/// One sensor a message, more where a message holds a quantity twice. `place` goes for every
/// temperature whose name says none.
std::vector<ProposedSensor> propose_sensors(const std::vector<HeardSensor>& heard,
                                            GuessedPlace place = GuessedPlace::unsaid);

}  // namespace tubwarden
