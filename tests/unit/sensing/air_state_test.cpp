// What the sensors of one air say now: live, fresh, several of them to one value.
#include "core/sensing/air_state.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;
constexpr auto kCo2 = Quantity::co2;
constexpr Instant kZero{hours(10)};

SensorPlan sensor(std::string id, std::vector<Quantity> quantities = {kHumidity},
                  Duration stale_after = minutes(2)) {
  SensorPlan plan;
  plan.id = std::move(id);
  plan.topic = "cellar/" + plan.id;
  plan.stale_after = stale_after;
  for (Quantity q : quantities) {
    QuantitySource source;
    source.quantity = q;
    plan.quantities.push_back(source);
  }
  return plan;
}

struct Air : AirState {
  explicit Air(std::vector<SensorPlan> plans) : AirState(std::move(plans), kZero) {}
  void live(std::size_t i, double value, Instant now, Quantity q = kHumidity) {
    reading(i, q, value, false, false, now, now);
  }
  void retained(std::size_t i, double value, Instant now) {
    reading(i, kHumidity, value, true, false, now, now);
  }
};

TEST(AirState, AReadingIsUsableUntilItIsTooOld) {
  Air air({sensor("a")});
  EXPECT_FALSE(air.usable(kHumidity, kZero));
  EXPECT_FALSE(air.newest(kHumidity));
  air.live(0, 88, kZero);
  ASSERT_TRUE(air.usable(kHumidity, kZero + minutes(2)));
  EXPECT_EQ(air.usable(kHumidity, kZero)->value, 88);
  EXPECT_EQ(air.usable(kHumidity, kZero)->seen, kZero);
  EXPECT_FALSE(air.usable(kHumidity, kZero + minutes(2) + Duration{1}));
  EXPECT_EQ(air.newest(kHumidity)->value, 88) << "still shown";
  EXPECT_FALSE(air.usable(kCo2, kZero));
}

TEST(AirState, AStampIsTakenForWhenItWasTaken) {
  Air air({sensor("a")});
  const Instant now = kZero + minutes(10);
  air.reading(0, kHumidity, 88, false, false, now - minutes(1), now);
  EXPECT_TRUE(air.usable(kHumidity, now + minutes(1)));
  EXPECT_FALSE(air.usable(kHumidity, now + minutes(1) + Duration{1}));
  air.reading(0, kHumidity, 89, false, false, now + seconds(4), now);
  EXPECT_EQ(air.newest(kHumidity)->seen, now) << "a stamp ahead of us is now";
}

TEST(AirState, RetainedIsShownAndNeverUsable) {
  Air air({sensor("a")});
  air.retained(0, 88, kZero);
  EXPECT_FALSE(air.usable(kHumidity, kZero));
  EXPECT_EQ(air.newest(kHumidity)->value, 88);
  EXPECT_FALSE(air.heard(0));
  air.live(0, 87, kZero + seconds(1));
  air.retained(0, 50, kZero + seconds(2));
  EXPECT_EQ(air.usable(kHumidity, kZero + seconds(2))->value, 87);
}

TEST(AirState, TheMedianAndTheHighest) {
  Air air({sensor("a"), sensor("b"), sensor("c"), sensor("d")});
  const double values[] = {90, 10, 88, 86};
  const double medians[] = {90, 50, 88, 87};
  const double highest[] = {90, 90, 90, 90};
  for (std::size_t i = 0; i < 4; ++i) {
    air.live(i, values[i], kZero + seconds(static_cast<int>(i)));
    const auto sensed = air.usable(kHumidity, kZero + seconds(9));
    ASSERT_TRUE(sensed);
    EXPECT_EQ(sensed->value, medians[i]) << i;
    EXPECT_EQ(sensed->highest, highest[i]);
    EXPECT_EQ(sensed->seen, kZero + seconds(static_cast<int>(i)));
  }
  // a and b have gone stale at two minutes and a bit, c and d have not.
  EXPECT_EQ(air.usable(kHumidity, kZero + seconds(122))->value, 87);
}

TEST(AirState, MoreThanSixteenOfAKindDoNotHarm) {
  std::vector<SensorPlan> plans;
  for (int i = 0; i < 40; ++i) plans.push_back(sensor("s" + std::to_string(i)));
  Air air(plans);
  for (std::size_t i = 0; i < 40; ++i) air.live(i, 80 + static_cast<double>(i % 2), kZero);
  EXPECT_EQ(air.usable(kHumidity, kZero)->value, 80.5);
}

TEST(AirState, AtTheTopOfItsRangeIsSaid) {
  Air air({sensor("a", {kCo2}), sensor("b", {kCo2})});
  air.live(0, 900, kZero, kCo2);
  EXPECT_FALSE(air.usable(kCo2, kZero)->at_least);
  air.reading(1, kCo2, 5000, false, true, kZero, kZero);
  EXPECT_TRUE(air.usable(kCo2, kZero)->at_least);
  const Instant later = kZero + minutes(1);
  air.live(1, 2000, later, kCo2);
  EXPECT_FALSE(air.usable(kCo2, later)->at_least);
}

TEST(AirState, GoneIsLostUntilItSpeaks) {
  Air air({sensor("a", {kHumidity, kCo2})});
  air.live(0, 88, kZero);
  air.live(0, 600, kZero, kCo2);
  EXPECT_TRUE(air.heard(0));
  air.gone(0);
  EXPECT_TRUE(air.is_gone(0));
  EXPECT_TRUE(air.stale(0, kZero));
  EXPECT_FALSE(air.heard(0));
  EXPECT_FALSE(air.usable(kHumidity, kZero));
  air.retained(0, 88, kZero);
  EXPECT_TRUE(air.is_gone(0)) << "a retained one is no sign of life";
  air.live(0, 87, kZero);
  EXPECT_FALSE(air.is_gone(0));
  EXPECT_TRUE(air.usable(kHumidity, kZero));
  EXPECT_FALSE(air.usable(kCo2, kZero)) << "that one has not been heard since";
}

TEST(AirState, NothingFromBeforeAnOutageComesBack) {
  for (const bool down_was_told : {true, false}) {
    Air air({sensor("a")});
    air.live(0, 88, kZero);
    if (down_was_told) air.broker(false, kZero + seconds(1));
    air.broker(true, kZero + seconds(2));
    EXPECT_FALSE(air.usable(kHumidity, kZero + seconds(2)));
    EXPECT_EQ(air.newest(kHumidity)->value, 88);
    EXPECT_FALSE(air.stale(0, kZero + seconds(2) + minutes(2))) << "its time begins anew";
    EXPECT_TRUE(air.stale(0, kZero + seconds(2) + minutes(2) + Duration{1}));
    EXPECT_FALSE(air.heard(0));
    air.live(0, 87, kZero + seconds(9));
    EXPECT_EQ(air.usable(kHumidity, kZero + seconds(9))->value, 87);
  }
}

TEST(AirState, SilenceIsTheMostSilentQuantitys) {
  Air air({sensor("a", {kHumidity, kCo2})});
  EXPECT_EQ(air.silent_since(0), kZero);
  air.live(0, 88, kZero + minutes(1));
  EXPECT_EQ(air.silent_since(0), kZero) << "CO2 has not been heard";
  EXPECT_FALSE(air.heard(0));
  air.live(0, 600, kZero + minutes(2), kCo2);
  EXPECT_EQ(air.silent_since(0), kZero + minutes(1));
  EXPECT_TRUE(air.heard(0));
  const Instant later = kZero + minutes(3) + seconds(30);
  EXPECT_TRUE(air.silent(0, kHumidity, later));
  EXPECT_FALSE(air.silent(0, kCo2, later));
  EXPECT_TRUE(air.stale(0, later));
  // An old reading does not make it younger than it is.
  air.reading(0, kHumidity, 88, false, false, kZero, later);
  EXPECT_EQ(air.silent_since(0), kZero + minutes(1));
}

TEST(AirState, ASensorOfNothingIsSilentSinceWeListen) {
  Air air({sensor("a", {})});
  EXPECT_EQ(air.silent_since(0), kZero);
  EXPECT_TRUE(air.heard(0));
}

TEST(AirState, PlannedIsWhatAnySensorCarries) {
  Air air({sensor("a"), sensor("b", {kCo2})});
  EXPECT_TRUE(air.planned(kHumidity));
  EXPECT_TRUE(air.planned(kCo2));
  EXPECT_FALSE(air.planned(Quantity::substrate_temperature));
}

TEST(AirState, AdoptKeepsTheSameSensorsWhereverTheyStand) {
  Air air({sensor("a"), sensor("b")});
  air.live(0, 80, kZero);
  air.live(1, 90, kZero);
  const Instant now = kZero + seconds(30);
  air.adopt({sensor("c"), sensor("b"), sensor("a", {kHumidity}, seconds(10))}, now);
  ASSERT_EQ(air.sensors().size(), 3U);
  const auto sensed = air.usable(kHumidity, now);
  ASSERT_TRUE(sensed);
  EXPECT_EQ(sensed->value, 90) << "a is kept, and too old by its new limit";
  EXPECT_EQ(air.silent_since(0), now);
  EXPECT_EQ(air.silent_since(1), kZero);
  air.adopt({}, now);
  EXPECT_FALSE(air.usable(kHumidity, now));
}

TEST(AirState, NextStalingIsWhenAnAnswerChanges) {
  for (unsigned seed = 1; seed <= 100; ++seed) {
    std::mt19937 random(seed);
    const auto uniform = [&](int low, int high) {
      return std::uniform_int_distribution<int>(low, high)(random);
    };
    Air air({sensor("a", {kHumidity, kCo2}, seconds(20)), sensor("b", {kHumidity}, seconds(35)),
             sensor("c", {kCo2}, seconds(50))});
    const auto answers = [&](Instant t) {
      std::vector<double> all;
      for (Quantity q : {kHumidity, kCo2}) {
        all.push_back(air.usable(q, t) ? air.usable(q, t)->value : -1.0);
      }
      for (std::size_t i = 0; i < 3; ++i) all.push_back(air.stale(i, t) ? 1.0 : 0.0);
      return all;
    };
    Instant now = kZero;
    int changed = 0;
    for (int i = 0; i < 300; ++i) {
      const std::size_t who = static_cast<std::size_t>(uniform(0, 2));
      const Quantity q = who == 1 ? kHumidity : who == 2 ? kCo2 : uniform(0, 1) ? kHumidity : kCo2;
      const int what = uniform(0, 30);
      const Duration age = seconds(uniform(0, 9) == 0 ? uniform(0, 60) : 0);
      if (what == 0) air.gone(who);
      if (what == 1) air.broker(uniform(0, 1) == 1, now);
      if (what > 1) air.reading(who, q, uniform(0, 99), what == 2, false, now - age, now);
      const Instant end = now + milliseconds(uniform(0, 15000));
      // Nothing changes before the moment that was named; that moment may be early, never late.
      while (now < end) {
        const auto next = air.next_staling(now);
        ASSERT_GT(next.value_or(end), now);
        const Instant until = next ? std::min(end, *next) : end;
        const auto before = answers(now);
        ASSERT_EQ(answers(until - Duration{1} > now ? until - Duration{1} : now), before)
            << "seed " << seed << " step " << i;
        now = until;
        changed += answers(now) != before;
      }
    }
    EXPECT_GT(changed, 10) << seed;
  }
}

}  // namespace
}  // namespace tubwarden
