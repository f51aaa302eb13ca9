#include "rehearsal/grow_play.hpp"

#include <algorithm>

namespace tubwarden::rehearsal {
namespace {

/// Two who look on.
class Both final : public Observer {
 public:
  Both(Observer& one, Observer* other) : one_(one), other_(other) {}

  void passed(Duration at, double lasted_s, const std::array<double, kQuantities>& truth) override {
    one_.passed(at, lasted_s, truth);
    if (other_ != nullptr) other_->passed(at, lasted_s, truth);
  }
  void kept(Duration at, const Bands& bands) override {
    one_.kept(at, bands);
    if (other_ != nullptr) other_->kept(at, bands);
  }
  void heard(Duration at, std::size_t sensor, Quantity quantity, double value) override {
    one_.heard(at, sensor, quantity, value);
    if (other_ != nullptr) other_->heard(at, sensor, quantity, value);
  }
  void switched(Duration at, std::size_t actuator, Level level, double rate) override {
    one_.switched(at, actuator, level, rate);
    if (other_ != nullptr) other_->switched(at, actuator, level, rate);
  }
  void alerted(Duration at, const AlertChange& change) override {
    one_.alerted(at, change);
    if (other_ != nullptr) other_->alerted(at, change);
  }
  void entered(Duration at, const std::string& tub, const std::string& phase) override {
    one_.entered(at, tub, phase);
    if (other_ != nullptr) other_->entered(at, tub, phase);
  }
  void watered(Duration at, double grams) override {
    one_.watered(at, grams);
    if (other_ != nullptr) other_->watered(at, grams);
  }

 private:
  Observer& one_;
  Observer* other_;
};

}  // namespace

PlayedAir play_air(const GrowAir& air, Duration length, const EachDay& each_day, Observer* also) {
  World world(air.plan);
  Chronicle chronicle(air.plan, air.walks);
  Both both(chronicle, also);
  world.observe(&both);
  while (world.passed() < length && world.watch().broken_total() == 0) {
    world.run(std::min<Duration>(hours(24), length - world.passed()));
    if (each_day && !each_day(world.passed())) break;
  }
  const bool whole = world.passed() >= length;
  return {air.plan.chamber, whole ? chronicle.tubs_at(length) : chronicle.tubs(),
          world.watch().broken(), world.statistics().turns, world.passed()};
}

}  // namespace tubwarden::rehearsal
