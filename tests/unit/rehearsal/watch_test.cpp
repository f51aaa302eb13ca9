// The watch sees each broken word: every invariant is broken here on purpose, and kept beside it.
#include "rehearsal/watch.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>

namespace tubwarden::rehearsal {
namespace {

using testing::HasSubstr;

constexpr Instant kStart{hours(5)};
constexpr std::size_t kMister = 0, kHeater = 1, kCooler = 2;
constexpr Band kHumidity{85.0, 90.0}, kCelsius{15.0, 18.0};

ActuatorPlan actuator(const std::string& id, Effect effect, RunLimits limits) {
  ActuatorPlan a;
  a.id = id;
  a.effect = effect;
  a.limits = limits;
  return a;
}

QuantityPlan keeps(const Band& band) {
  QuantityPlan plan;
  plan.keep = Keep{Keep::Form::between, band.low, band.high};
  return plan;
}

class WatchTest : public testing::Test {
 protected:
  WatchTest() : watch_(chamber(), tubs(), kStart) {
    watch_.broker(true);
    watch_.phase("tub", kPhaseFruiting);
    std::array<std::optional<Band>, kQuantities> bands{};
    bands[index_of(Quantity::humidity)] = kHumidity;
    bands[index_of(Quantity::air_temperature)] = kCelsius;
    watch_.bands(bands);
    air(87.0, 16.5);
  }

  static ChamberPlan chamber() {
    ChamberPlan plan;
    plan.id = plan.leader = "tub";
    SensorPlan sensor;
    sensor.id = "air";
    sensor.stale_after = seconds(60);
    plan.sensors = {sensor};
    plan.actuators = {
        actuator("mister", Effect::humidify, {seconds(2), seconds(20), seconds(10), 3}),
        actuator("heater", Effect::heat, {}), actuator("cooler", Effect::cool, {})};
    return plan;
  }
  static std::vector<TubPlan> tubs() {
    PhasePlan fruiting;
    fruiting.name = kPhaseFruiting;
    fruiting.quantities[index_of(Quantity::humidity)] = keeps(kHumidity);
    fruiting.quantities[index_of(Quantity::air_temperature)] = keeps(kCelsius);
    PhasePlan empty;
    empty.name = kPhaseEmpty;
    auto profile = std::make_shared<Profile>();
    profile->phases = {fruiting, empty};
    TubPlan tub;
    tub.id = "tub";
    tub.profile = profile;
    return {tub};
  }

  void pass(Duration time) { now_ += time; }
  void air(double humidity, double celsius) {
    watch_.reading(0, Quantity::humidity, humidity, false, now_);
    watch_.reading(0, Quantity::air_temperature, celsius, false, now_);
  }
  void set(std::size_t output, Level level, Cause cause = Cause::decided) {
    watch_.output(output, level, cause, now_);
    watch_.look(now_);
  }
  /// A run within all limits, after which the next may start.
  void run(Duration time) {
    pass(seconds(30));
    air(86.0, 16.5);
    set(kMister, kRun);
    pass(time);
    set(kMister, kRest);
  }
  void expect_broken(const std::string& words) {
    ASSERT_FALSE(watch_.broken().empty()) << "not seen: " << words;
    EXPECT_THAT(watch_.broken().front(), HasSubstr(words));
  }
  void expect_whole() { EXPECT_EQ(watch_.broken_total(), 0u) << watch_.broken().front(); }

  Instant now_ = kStart;
  Watch watch_;
};

TEST_F(WatchTest, ARunWithinItsLimitsIsWhole) {
  run(seconds(5));
  run(seconds(2));
  expect_whole();
  EXPECT_GT(watch_.looks(), 0u);
}

TEST_F(WatchTest, SeesARestTooShort) {
  run(seconds(5));
  pass(seconds(19));
  set(kMister, kRun);
  expect_broken("starts after a rest of 19s");
}

TEST_F(WatchTest, SeesARunTooShort) {
  run(seconds(1));
  expect_broken("stops after 1s");
}

TEST_F(WatchTest, LetsARunBeCutAboveTheBand) {
  pass(seconds(30));
  set(kMister, kRun);
  pass(seconds(1));
  air(90.5, 16.5);
  set(kMister, kRest);
  expect_whole();
}

TEST_F(WatchTest, SeesARunTooLong) {
  pass(seconds(30));
  set(kMister, kRun);
  pass(seconds(10) + Duration(2));
  watch_.look(now_);
  expect_broken("has run for");
}

TEST_F(WatchTest, SeesOneStartTooMany) {
  for (int i = 0; i < 3; ++i) run(seconds(3));
  expect_whole();
  run(seconds(3));
  expect_broken("starts for the 4. time");
}

TEST_F(WatchTest, CountsStartsOfTheLastHourOnly) {
  for (int i = 0; i < 3; ++i) run(seconds(3));
  pass(hours(1));
  run(seconds(3));
  expect_whole();
}

TEST_F(WatchTest, SeesHeatingAgainstCooling) {
  set(kHeater, kRun);
  expect_whole();
  set(kCooler, kRun);
  expect_broken("heats while cooler cools");
}

TEST_F(WatchTest, SeesMistAboveTheBand) {
  pass(seconds(30));
  set(kMister, kRun);
  pass(seconds(3));
  air(90.1, 16.5);
  watch_.look(now_);
  expect_broken("raises humidity above");
}

TEST_F(WatchTest, SeesARunOnAStaleReading) {
  pass(seconds(58));
  set(kMister, kRun);
  pass(seconds(2));
  watch_.look(now_);
  expect_whole();
  pass(Duration(1));
  watch_.look(now_);
  expect_broken("not safe without a fresh reading of humidity");
}

TEST_F(WatchTest, SeesARunOnARetainedReadingOnlyAfterAnOutage) {
  watch_.broker(false);
  watch_.broker(true);
  watch_.reading(0, Quantity::humidity, 80.0, true, now_);
  pass(seconds(30));
  set(kMister, kRun);
  expect_broken("not safe without a fresh reading of humidity");
}

TEST_F(WatchTest, SeesARunAfterItsSensorsWill) {
  pass(seconds(30));
  watch_.gone(0);
  set(kMister, kRun);
  expect_broken("not safe without a fresh reading");
}

TEST_F(WatchTest, SeesARunInEmpty) {
  watch_.phase("tub", kPhaseEmpty);
  pass(seconds(30));
  set(kHeater, kRun);
  expect_broken("runs in empty");
}

TEST_F(WatchTest, SeesARunWithoutAConfirmedPhase) {
  watch_.phase("tub", "");
  pass(seconds(30));
  set(kHeater, kRun);
  expect_broken("the phase is not confirmed");
}

TEST_F(WatchTest, SeesAHostThatEndsARunTooSoon) {
  pass(seconds(30));
  set(kMister, kRun);
  pass(seconds(9));
  set(kMister, kRest, Cause::run_over);
  expect_broken("its host ended the run before its longest");
}

}  // namespace
}  // namespace tubwarden::rehearsal
