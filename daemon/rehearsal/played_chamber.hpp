// A chamber of the configuration played by the model: what its relays hear moves the air, what its
// sensors see goes out as they would say it. Time is an argument; the broker is somebody else's.
// Threading: one owner. Failure: a plan that cannot be played is an Error; a word on a relay's
// topic that is neither of its payloads is counted and moves nothing.
#pragma once

#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "rehearsal/model.hpp"
#include "rehearsal/payload.hpp"
#include "rehearsal/plant.hpp"
#include "rehearsal/probe.hpp"
#include "rehearsal/relay.hpp"

namespace tubwarden::rehearsal {

struct Word {
  std::string topic, payload;
};

/// Several quantities of one or more sensors that share a topic go out in one payload.
struct TopicForm {
  std::string topic;
  std::vector<std::pair<const QuantitySource*, std::size_t>> members;  ///< and whose value
  std::optional<StampPlan> stamp;
};
/// Sensors by topic; `number` counts through all their quantities in order.
std::vector<TopicForm> topic_forms(const std::vector<SensorPlan>& sensors);

class PlayedChamber {
 public:
  /// Error where a payload or a wiring cannot be played.
  static Result<PlayedChamber> make(const ChamberPlan& chamber, const ModelParameters& parameters,
                                    const RoomDay& room, const StartAir& start, std::uint64_t seed,
                                    Instant now);

  std::set<std::string> hears() const;
  /// What was heard; answers with the confirmations it brings about.
  std::vector<Word> heard(std::string_view topic, std::string_view payload, Instant now);
  /// Relays whose timer ran out, and their confirmations.
  std::vector<Word> fall(Instant now);
  std::optional<Instant> next_fall() const;
  /// How every relay with a confirmation stands.
  std::vector<Word> confirmations() const;
  /// The lid is taken off, or put on again.
  void lid(bool open, Instant now);
  /// What every sensor says now.
  std::vector<Word> sensors(Instant now, WallTime wall);

  const ChamberPlan& plan() const { return *plan_; }
  const ChamberModel& model() const { return model_; }
  /// One line: the true air, what stands in it, and what runs.
  std::string told() const;
  /// Outputs that are not on the broker: they rest throughout.
  const std::vector<std::string>& unplayed() const { return unplayed_; }
  std::uint64_t unknown_words() const { return unknown_words_; }

 private:
  struct Switch {
    std::size_t actuator;
    RelayWiring wiring;
    Relay relay;
  };
  PlayedChamber(const ChamberPlan& chamber, const ModelParameters& parameters, const RoomDay& room,
                const StartAir& start, std::uint64_t seed, Instant now);
  Outcome wire();
  void advance(Instant now);
  void settle(const Switch& moved, std::vector<Word>& words);

  std::unique_ptr<const ChamberPlan> plan_;  ///< the forms point into it
  ChamberModel model_;
  Plant plant_;
  std::vector<Probe> probes_;
  std::vector<TopicForm> forms_;
  std::vector<Switch> switches_;
  std::vector<std::string> unplayed_;
  std::uint64_t unknown_words_ = 0;
  Instant at_;
};

}  // namespace tubwarden::rehearsal
