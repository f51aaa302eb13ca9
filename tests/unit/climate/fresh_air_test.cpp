// The fan's masters in their order, and the floor's clock against a naive oracle.
#include <gtest/gtest.h>

#include <random>
#include <vector>

#include "core/climate/fresh_air.hpp"

namespace tubwarden {
namespace {

using M = FanMaster;

TEST(FanOrder, OfEachPhase) {
  const std::vector<M> growing = {M::ceiling, M::temperature, M::humidity_high, M::floor};
  const std::vector<M> cropping = {M::ceiling, M::co2, M::humidity_high, M::temperature, M::floor};
  const std::pair<const char*, std::vector<M>> phases[] = {
      {kPhaseGrain, growing},    {kPhaseColonization, growing}, {kPhaseCasing, growing},
      {kPhasePinning, cropping}, {kPhaseFruiting, cropping},    {"second-flush", cropping}};
  for (const auto& [phase, order] : phases) {
    const auto got = fan_order(phase);
    EXPECT_EQ(std::vector<M>(got.begin(), got.end()), order) << phase;
  }
}

TEST(FanOrder, TheFirstThatIsNotSilentDecides) {
  // Every way five masters can speak.
  for (int code = 0; code < 243; ++code) {
    FanSays says{};
    for (int rest = code, i = 0; i < 5; ++i, rest /= 3) {
      says[static_cast<std::size_t>(i)] = static_cast<Say>(rest % 3);
    }
    for (const char* phase : {kPhaseCasing, kPhaseFruiting}) {
      std::optional<M> who;
      for (M m : fan_order(phase)) {
        if (!who && says[static_cast<std::size_t>(m)] != Say::silent) who = m;
      }
      const FanDecision got = decide_fan(fan_order(phase), says);
      EXPECT_EQ(got.master, who) << code;
      EXPECT_EQ(got.run, who && says[static_cast<std::size_t>(*who)] == Say::calls) << code;
    }
  }
}

TEST(FanOrder, NamesItsMasters) {
  EXPECT_EQ(name_of(M::ceiling), "substrate ceiling");
  EXPECT_EQ(name_of(M::co2), "CO2");
  EXPECT_EQ(name_of(M::humidity_high), "high humidity");
  EXPECT_EQ(name_of(M::temperature), "temperature");
  EXPECT_EQ(name_of(M::floor), "fresh-air floor");
}

TEST(FloorRun, IsChangesTimesVolumeByRate) {
  EXPECT_EQ(floor_run(1, 40, 2), seconds(72));
  EXPECT_EQ(floor_run(2, 60, 4), seconds(108));
}

constexpr Instant kZero{hours(10)};
constexpr Duration kEvery = minutes(15);
constexpr Duration kRunLength = seconds(72);

TEST(FloorClock, CallsAsLateAsStillDoesTheWork) {
  FloorClock clock;
  clock.begin(kZero, kZero);
  auto need = clock.ask(kRunLength, kEvery, kZero);
  EXPECT_FALSE(need.calls);
  EXPECT_EQ(need.left, kRunLength);
  EXPECT_EQ(need.next_change, kZero + kEvery - kRunLength);
  const Instant start = need.next_change;
  clock.moved(kRest, start);
  need = clock.ask(kRunLength, kEvery, start);
  EXPECT_TRUE(need.calls);
  EXPECT_EQ(need.next_change, kZero + kEvery);
  clock.moved(kRun, start + seconds(40));
  need = clock.ask(kRunLength, kEvery, start + seconds(40));
  EXPECT_TRUE(need.calls);
  EXPECT_EQ(need.left, seconds(32));
  clock.moved(kRun, kZero + kEvery);
  need = clock.ask(kRunLength, kEvery, kZero + kEvery);
  EXPECT_FALSE(need.calls) << "a new window";
  EXPECT_EQ(need.left, kRunLength);
}

TEST(FloorClock, WhatIsMovedCountsByItsLevel) {
  FloorClock clock;
  clock.begin(kZero, kZero);
  clock.moved(250, kZero + seconds(80));
  EXPECT_EQ(clock.ask(kRunLength, kEvery, kZero + seconds(80)).left, seconds(52));
  clock.moved(kRest, kZero + seconds(200));
  EXPECT_EQ(clock.ask(kRunLength, kEvery, kZero + seconds(200)).left, seconds(52));
  clock.moved(kRun, kZero + seconds(252));
  const auto need = clock.ask(kRunLength, kEvery, kZero + seconds(252));
  EXPECT_EQ(need.left, Duration{0});
  EXPECT_FALSE(need.calls);
  EXPECT_EQ(need.next_change, kZero + kEvery);
}

TEST(FloorClock, WindowsCountFromTheirFirst) {
  FloorClock clock;
  clock.begin(kZero - hours(100) - minutes(10), kZero);
  EXPECT_EQ(clock.ask(kRunLength, kEvery, kZero).next_change, kZero + minutes(5) - kRunLength);
}

TEST(FloorClock, ARunLongerThanItsWindowCallsAlways) {
  FloorClock clock;
  clock.begin(kZero, kZero);
  for (int i = 0; i < 100; ++i) {
    const Instant now = kZero + minutes(i);
    clock.moved(kRun, now);
    EXPECT_TRUE(clock.ask(minutes(20), kEvery, now).calls) << i;
  }
}

TEST(FloorClock, EveryWindowGetsItsRunWhateverElseRan) {
  for (unsigned seed = 1; seed <= 100; ++seed) {
    std::mt19937 random(seed);
    const auto uniform = [&](int low, int high) {
      return std::uniform_int_distribution<int>(low, high)(random);
    };
    const Duration every = seconds(uniform(60, 1200));
    const Duration run = every * uniform(1, 9) / 10;
    FloorClock clock;
    clock.begin(kZero, kZero);
    Instant now = kZero;
    bool demand = false, runs = false;
    Instant demand_until = now;
    std::vector<Duration> moved(200), needless(200);
    const auto window_of = [&](Instant t) { return static_cast<std::size_t>((t - kZero) / every); };
    // Looked at whenever demand changes, when the clock asks for it, and at each window's end.
    while (window_of(now) < 60) {
      clock.moved(runs ? kRun : kRest, now);
      const auto need = clock.ask(run, every, now);
      ASSERT_GT(need.next_change, now);
      if (now >= demand_until) {
        demand = !demand;
        demand_until = now + milliseconds(uniform(1, static_cast<int>(every / milliseconds(1))));
      }
      runs = demand || need.calls;
      const Instant next = std::min(
          {need.next_change, demand_until, kZero + every * static_cast<int>(window_of(now) + 1)});
      if (runs) moved[window_of(now)] += next - now;
      if (runs && !demand) needless[window_of(now)] += next - now;
      now = next;
    }
    for (std::size_t w = 0; w < 60; ++w) {
      EXPECT_GE(moved[w], run) << "seed " << seed << " window " << w;
      // The floor itself never runs more than what is owed.
      EXPECT_LE(needless[w], run) << "seed " << seed << " window " << w;
      if (needless[w] > Duration{0}) {
        EXPECT_EQ(moved[w], run) << "seed " << seed << " window " << w;
      }
    }
  }
}

}  // namespace
}  // namespace tubwarden
