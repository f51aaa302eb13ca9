// The watch sees each promise broken, and nothing where the rules let an output do as it did.

#include "rehearsal/watch.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace tubwarden::rehearsal {
namespace {

using ::testing::HasSubstr;

enum Part : std::size_t { mister, heater, cooler, dryer, fan };

class WatchTest : public ::testing::Test {
 protected:
  void SetUp() override {
    chamber_.id = chamber_.leader = "tub-1";
    SensorPlan sensor;
    sensor.stale_after = minutes(2);
    chamber_.sensors = {sensor, sensor};
    for (const auto& [id, effect] :
         {std::pair{"mister", Effect::humidify}, std::pair{"heater", Effect::heat},
          std::pair{"cooler", Effect::cool}, std::pair{"dryer", Effect::dehumidify},
          std::pair{"fan", Effect::fresh_air}}) {
      ActuatorPlan a;
      a.id = id;
      a.effect = effect;
      a.limits = {seconds(10), seconds(20), seconds(60), 3};
      chamber_.actuators.push_back(a);
    }
    auto profile = std::make_shared<Profile>();
    PhasePlan fruiting;
    fruiting.name = kPhaseFruiting;
    keep(fruiting, Quantity::humidity, 85.0, 90.0);
    keep(fruiting, Quantity::air_temperature, 15.0, 18.0);
    PhasePlan empty;
    empty.name = kPhaseEmpty;
    profile->phases = {fruiting, empty};
    TubPlan tub;
    tub.id = "tub-1";
    tub.profile = profile;
    tubs_ = {tub};
    begin();
  }
  static void keep(PhasePlan& phase, Quantity q, double low, double high) {
    phase.quantities[index_of(q)] = QuantityPlan{Keep{Keep::Form::between, low, high}, {}, {}};
  }
  void begin() {
    watch_ = std::make_unique<Watch>(chamber_, tubs_, now_);
    watch_->phase("tub-1", kPhaseFruiting);
    std::array<std::optional<Band>, kQuantities> bands;
    bands[index_of(Quantity::humidity)] = Band{85.0, 90.0};
    bands[index_of(Quantity::air_temperature)] = Band{15.0, 18.0};
    watch_->bands(bands);
    reads(83.0, 16.0);
    later(hours(2));
    reads(83.0, 16.0);
  }
  void reads(double humidity, double celsius) {
    watch_->reading(0, Quantity::humidity, humidity, false, now_);
    watch_->reading(0, Quantity::air_temperature, celsius, false, now_);
  }
  void later(Duration d) { now_ += d; }
  void run(Part part, Cause cause = Cause::decided) { watch_->output(part, kRun, cause, now_); }
  void rest(Part part, Cause cause = Cause::decided) { watch_->output(part, kRest, cause, now_); }
  void expect_broken(const std::string& sentence) {
    watch_->look(now_);
    ASSERT_GE(watch_->broken_total(), 1u);
    EXPECT_THAT(watch_->broken().front(), HasSubstr(sentence));
  }
  void expect_kept() {
    watch_->look(now_);
    EXPECT_EQ(watch_->broken_total(), 0u)
        << (watch_->broken().empty() ? "" : watch_->broken().front());
  }

  ChamberPlan chamber_;
  std::vector<TubPlan> tubs_;
  Instant now_{hours(10)};
  std::unique_ptr<Watch> watch_;
};

TEST_F(WatchTest, AProperRunIsKept) {
  run(mister);
  later(seconds(10));
  rest(mister);
  later(seconds(20));
  run(mister);
  expect_kept();
}

TEST_F(WatchTest, AShortRest) {
  run(mister);
  later(seconds(10));
  rest(mister);
  later(milliseconds(19999));
  run(mister);
  expect_broken("mister starts after a rest of");
}

TEST_F(WatchTest, AStartOfTheDaemonIsAStopJustNow) {
  watch_->restarted(now_);
  watch_->phase("tub-1", kPhaseFruiting);
  reads(83.0, 16.0);
  later(seconds(19));
  run(mister);
  expect_broken("starts after a rest of 19s");
}

TEST_F(WatchTest, AShortRun) {
  run(mister);
  later(milliseconds(9999));
  rest(mister);
  expect_broken("mister stops after");
}

TEST_F(WatchTest, AShortRunYieldsAtTheFarEdge) {
  run(mister);
  later(seconds(1));
  reads(90.5, 16.0);
  rest(mister);
  expect_kept();
}

TEST_F(WatchTest, AShortRunYieldsToADriverThatIsLostAndToSafe) {
  run(mister);
  later(seconds(1));
  rest(mister, Cause::lost);
  later(seconds(30));
  run(mister);
  later(seconds(1));
  rest(mister, Cause::made_safe);
  expect_kept();
}

TEST_F(WatchTest, ACoolersShortRunDoesNotYieldToItsEdge) {
  reads(87.0, 19.0);
  run(cooler);
  later(seconds(1));
  reads(87.0, 14.0);
  rest(cooler);
  expect_broken("cooler stops after");
}

TEST_F(WatchTest, ALongRun) {
  run(mister);
  later(seconds(60));
  expect_kept();
  later(milliseconds(1));
  reads(83.0, 16.0);
  expect_broken("mister has run for");
}

TEST_F(WatchTest, ARunThatItsHostEndsTooEarly) {
  run(mister);
  later(seconds(9));
  rest(mister, Cause::run_over);
  expect_broken("mister stops after 9s, shortest run is 10s");
}

TEST_F(WatchTest, APortionThatItsHostEndsIsKept) {
  run(mister);
  later(seconds(10));
  rest(mister, Cause::run_over);
  expect_kept();
}

TEST_F(WatchTest, TooManyStartsInAnHour) {
  for (int i = 0; i < 3; ++i) {
    reads(83.0, 16.0);
    run(mister);
    later(seconds(10));
    rest(mister);
    later(minutes(15));
  }
  reads(83.0, 16.0);
  expect_kept();
  run(mister);
  expect_broken("starts for the 4. time");
}

TEST_F(WatchTest, StartsOfMoreThanAnHourAgoDoNotCount) {
  for (int i = 0; i < 3; ++i) {
    run(mister);
    later(seconds(10));
    rest(mister);
    later(minutes(1));
    reads(83.0, 16.0);
  }
  later(hours(1));
  reads(83.0, 16.0);
  run(mister);
  expect_kept();
}

TEST_F(WatchTest, HeatAndCoolTogether) {
  run(heater);
  expect_kept();
  run(cooler);
  expect_broken("heats while cooler cools");
}

TEST_F(WatchTest, AStaleReadingLetsNothingRun) {
  later(minutes(2));
  run(mister);
  expect_kept();
  later(Duration{1});
  expect_broken("mister is not safe without a fresh reading of humidity");
}

TEST_F(WatchTest, AReadingFromBeforeAnOutageOrRetainedIsNotFresh) {
  watch_->broker(false);
  watch_->broker(true);
  watch_->reading(0, Quantity::humidity, 83.0, true, now_);
  run(mister);
  expect_broken("without a fresh reading of humidity");
}

TEST_F(WatchTest, AnotherSensorsFreshReadingIsOne) {
  watch_->gone(0);
  watch_->reading(1, Quantity::humidity, 83.0, false, now_);
  run(mister);
  expect_kept();
}

TEST_F(WatchTest, SafeIsToRunWhereThePlanSaysSo) {
  chamber_.actuators[mister].output.safe = kRun;
  begin();
  watch_->gone(0);
  rest(mister, Cause::made_safe);
  expect_broken("is not safe without a fresh reading");
}

TEST_F(WatchTest, RaisingAboveHigh) {
  run(mister);
  reads(90.1, 16.0);
  expect_broken("mister raises humidity above 90.00, at 90.10");
}

TEST_F(WatchTest, HeatingAboveHigh) {
  run(heater);
  reads(87.0, 18.2);
  expect_broken("heater raises air temperature above 18.00");
}

TEST_F(WatchTest, LoweringBelowLow) {
  reads(91.0, 16.0);
  run(dryer);
  expect_kept();
  reads(84.0, 16.0);
  expect_broken("dryer lowers humidity below 85.00");
}

TEST_F(WatchTest, NothingRunsInEmpty) {
  run(fan);
  expect_kept();
  watch_->phase("tub-1", kPhaseEmpty);
  expect_broken("fan runs in empty");
}

TEST_F(WatchTest, NothingRunsBeforeThePhaseIsConfirmed) {
  watch_->restarted(now_);
  later(seconds(30));
  run(fan);
  expect_broken("the phase is not confirmed");
}

TEST_F(WatchTest, WhatIsOutOfReachIsExcusedUntilItIsToldAnew) {
  run(mister);
  watch_->unreachable(mister, now_);
  watch_->broker(false);
  later(minutes(3));
  expect_kept();
  watch_->broker(true);
  rest(mister, Cause::lost);
  later(seconds(30));
  reads(83.0, 16.0);
  run(mister);
  later(seconds(2));
  rest(mister);
  expect_broken("stops after");
}

TEST_F(WatchTest, ASingleReadingFarOffNeedNotBeActedUpon) {
  run(heater);
  reads(84.0, 30.0);
  expect_kept();
  later(seconds(10));
  reads(84.0, 30.1);
  expect_broken("heater raises air temperature above 18.00, at 30.10");
}

TEST_F(WatchTest, NothingStandsBeyondItsLease) {
  run(mister);
  later(chamber_.actuators[mister].output.lease);
  watch_->look_at_leases(now_);
  expect_kept();
  later(Duration{1});
  watch_->look_at_leases(now_);
  expect_broken("mister stands");
}

TEST_F(WatchTest, ARenewedLeaseHoldsOn) {
  run(mister);
  later(seconds(10));
  watch_->renewed(mister, now_);
  later(chamber_.actuators[mister].output.lease);
  watch_->look_at_leases(now_);
  expect_kept();
}

TEST_F(WatchTest, WhatIsOutOfReachFallsWithinALease) {
  run(mister);
  later(seconds(14));
  watch_->unreachable(mister, now_);
  later(chamber_.actuators[mister].output.lease);
  watch_->look_at_leases(now_);
  expect_kept();
  later(Duration{1});
  watch_->look_at_leases(now_);
  expect_broken("beyond its lease");
}

TEST_F(WatchTest, NothingRunsWithHandsInTheTub) {
  run(fan);
  watch_->hand({HandKind::attend, "", kRest, now_ + minutes(5), "tub-1"});
  expect_broken("fan runs with hands in the tub");
}

TEST_F(WatchTest, HandsInTheTubCutARunShortAndLeave) {
  run(fan);
  later(seconds(1));
  watch_->hand({HandKind::attend, "", kRest, now_ + minutes(5), "tub-1"});
  rest(fan);
  expect_kept();
  later(minutes(5));
  reads(87.0, 16.0);
  run(fan);
  expect_kept();
  later(seconds(1));
  rest(fan);
  expect_broken("fan stops after 1s");
}

TEST_F(WatchTest, AHandRunsWhatNoReadingWouldAndLimitsHold) {
  watch_->hand({HandKind::keep_at, "mister", kRun, now_ + minutes(30), "tub-1"});
  run(mister);
  later(seconds(30));
  reads(97.0, 16.0);
  expect_kept();
  watch_->gone(0);
  expect_kept();
  later(seconds(31));
  expect_broken("mister has run for");
}

TEST_F(WatchTest, AHandsTimeEnds) {
  watch_->hand({HandKind::keep_at, "mister", kRun, now_ + seconds(30), "tub-1"});
  run(mister);
  later(seconds(30));
  reads(97.0, 16.0);
  expect_broken("mister raises humidity");
}

TEST_F(WatchTest, AHandThatRestsCutsAllButACooler) {
  watch_->hand({HandKind::keep_at, "mister", kRest, now_ + minutes(5), "tub-1"});
  watch_->hand({HandKind::keep_at, "cooler", kRest, now_ + minutes(5), "tub-1"});
  run(mister);
  later(seconds(1));
  rest(mister);
  expect_kept();
  reads(83.0, 19.0);
  run(cooler);
  later(seconds(1));
  rest(cooler);
  expect_broken("cooler stops after 1s");
}

TEST_F(WatchTest, WhatIsLearnedStaysWithinAFifthAndFiveTimes) {
  for (const double share : {0.2, 5.0}) {
    for (const double lag_s : {1.6, 40.0}) {
      watch_->learned({"mister", {share, 0.1, lag_s, 0.1}}, now_);
    }
  }
  expect_kept();
  watch_->learned({"mister", {5.1, 0.1, 8.0, 0.1}}, now_);
  expect_broken("mister is learned to move 5.100");
  watch_->learned({"mister", {1.0, 0.1, 1.5, 0.1}}, now_);
  watch_->learned({"mister", {1.0, 0.1, 8.0, std::nan("")}}, now_);
  EXPECT_EQ(watch_->broken_total(), 3u);
}

}  // namespace
}  // namespace tubwarden::rehearsal
