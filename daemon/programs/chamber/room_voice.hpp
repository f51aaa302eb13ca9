// The sensors of the room around the chambers, as the site's plan has them: they say the model's
// room. Threading: one owner. Failure: a plan no payload can serve is an Error.
#pragma once

#include <memory>
#include <vector>

#include "rehearsal/played_chamber.hpp"

namespace tubwarden {

class RoomVoice {
 public:
  static Result<RoomVoice> make(const RoomPlan& room);
  std::vector<rehearsal::Word> words(const rehearsal::ChamberModel& model, WallTime wall) const;

 private:
  std::shared_ptr<const std::vector<SensorPlan>> sensors_;  ///< the forms point into it
  std::vector<rehearsal::TopicForm> forms_;
};

}  // namespace tubwarden
