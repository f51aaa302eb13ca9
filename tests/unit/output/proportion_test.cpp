#include "core/output/proportion.hpp"

#include <gtest/gtest.h>

#include <random>
#include <vector>

namespace tubwarden {
namespace {

constexpr Instant kStart{seconds(1000)};

struct Switch {
  Duration at;
  Level level;
  bool operator==(const Switch&) const = default;
};
void PrintTo(const Switch& s, std::ostream* out) {
  *out << s.at.count() / 1'000'000 << " ms " << s.level;
}

/// Wakes it exactly when it asks to be, up to `end`.
std::vector<Switch> play(Proportion& p, Instant from, Instant end) {
  std::vector<Switch> switches = {{from - kStart, p.shown()}};
  for (auto wake = p.next_wake(); wake && *wake < end; wake = p.next_wake()) {
    EXPECT_GE(*wake, from) << "it never asks to be woken in the past";
    if (const auto level = p.tick(*wake)) switches.push_back({*wake - kStart, *level});
  }
  return switches;
}

Duration given(const std::vector<Switch>& switches, Duration end) {
  Duration sum{0};
  for (std::size_t i = 0; i < switches.size(); ++i) {
    const Duration until = i + 1 < switches.size() ? switches[i + 1].at : end;
    if (switches[i].level == kRun) sum += until - switches[i].at;
  }
  return sum;
}

TEST(Proportion, a_level_between_runs_for_its_share_of_each_period) {
  Proportion p(seconds(60), seconds(5));
  EXPECT_EQ(p.ask(300, Duration{0}, kStart), kRun);
  EXPECT_EQ(play(p, kStart, kStart + seconds(130)), (std::vector<Switch>{{seconds(0), kRun},
                                                                         {seconds(18), kRest},
                                                                         {seconds(60), kRun},
                                                                         {seconds(78), kRest},
                                                                         {seconds(120), kRun}}));
}

TEST(Proportion, rest_and_full_are_switched_at_once_and_as_they_are) {
  Proportion p(seconds(60), seconds(5));
  EXPECT_EQ(p.ask(kRun, seconds(1), kStart), kRun);
  EXPECT_FALSE(p.next_wake());
  p.ask(500, Duration{0}, kStart);
  EXPECT_EQ(p.ask(kRest, Duration{0}, kStart + seconds(1)), kRest);
  EXPECT_FALSE(p.next_wake());
}

TEST(Proportion, what_is_too_short_to_run_is_owed_to_a_later_period) {
  Proportion p(seconds(60), seconds(5));
  EXPECT_EQ(p.ask(50, Duration{0}, kStart), kRest) << "3 s are too short";
  EXPECT_EQ(play(p, kStart, kStart + seconds(179)),
            (std::vector<Switch>{{seconds(0), kRest}, {seconds(60), kRun}, {seconds(66), kRest}}));
}

TEST(Proportion, a_rest_that_would_be_too_short_is_left_out_and_made_up_for) {
  Proportion p(seconds(60), seconds(5));
  EXPECT_EQ(p.ask(950, Duration{0}, kStart), kRun);
  EXPECT_EQ(play(p, kStart, kStart + seconds(179)),
            (std::vector<Switch>{{seconds(0), kRun}, {seconds(114), kRest}, {seconds(120), kRun}}));
}

TEST(Proportion, the_same_level_again_changes_nothing) {
  Proportion p(seconds(60), seconds(5)), alone(seconds(60), seconds(5));
  p.ask(300, Duration{0}, kStart);
  alone.ask(300, Duration{0}, kStart);
  for (int s = 1; s < 200; ++s) {
    const Instant now = kStart + seconds(s);
    alone.tick(now);
    EXPECT_EQ(p.ask(300, Duration{0}, now), alone.shown()) << s << " s";
  }
}

TEST(Proportion, a_changed_level_changes_the_run_that_goes_on) {
  Proportion p(seconds(60), seconds(5));
  p.ask(300, Duration{0}, kStart);
  EXPECT_EQ(p.ask(500, Duration{0}, kStart + seconds(10)), kRun);
  // 3 s for the 10 s at 30 %, 25 s for the 50 s at 50 %.
  EXPECT_EQ(*p.next_wake(), kStart + seconds(28));
  EXPECT_EQ(p.ask(100, Duration{0}, kStart + seconds(20)), kRest) << "it has had more than that";
  EXPECT_EQ(*p.next_wake(), kStart + seconds(60)) << "and no new period begins";
}

TEST(Proportion, a_timed_run_has_its_share_within_its_length) {
  Proportion p(seconds(60), seconds(1));
  EXPECT_EQ(p.ask(400, seconds(10), kStart), kRun);
  EXPECT_EQ(*p.next_wake(), kStart + seconds(4));
  EXPECT_EQ(p.tick(kStart + seconds(4)), kRest);
  EXPECT_EQ(p.ask(kRest, Duration{0}, kStart + seconds(10)), kRest);
}

TEST(Proportion, wakes_that_come_late_are_made_up_for) {
  Proportion p(seconds(60), seconds(5));
  p.ask(300, Duration{0}, kStart);
  EXPECT_EQ(p.tick(kStart + seconds(21)), kRest) << "3 s late";
  EXPECT_EQ(p.tick(kStart + seconds(60)), kRun);
  EXPECT_EQ(*p.next_wake(), kStart + seconds(75));
}

TEST(Proportion, a_board_that_slept_gives_no_more_than_a_period) {
  Proportion p(seconds(60), seconds(5));
  p.ask(300, Duration{0}, kStart);
  p.tick(kStart + seconds(18));
  p.tick(kStart + hours(8));
  EXPECT_LE(*p.next_wake(), kStart + hours(8) + seconds(60));
  p.tick(*p.next_wake());
  EXPECT_LE(*p.next_wake(), kStart + hours(8) + seconds(120));
}

/// Over random levels held for random times: the share is kept to a period, and no run or rest
/// between two switches is shorter than the shortest.
TEST(Proportion, keeps_the_share_and_the_shortest_run_whatever_is_asked) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    std::mt19937 random(seed);
    const auto up_to = [&](int n) { return std::uniform_int_distribution<int>(1, n)(random); };
    const Duration period = seconds(10 + up_to(90));
    const Duration shortest = milliseconds(up_to(5000));
    Proportion p(period, shortest);
    Instant now = kStart;
    Duration wanted{0};
    std::vector<Switch> switches;
    for (int i = 0; i < 40; ++i) {
      const Level level = static_cast<Level>(up_to(999));
      const Duration held = milliseconds(up_to(120000));
      p.ask(level, Duration{0}, now);
      for (const Switch& s : play(p, now, now + held)) {
        if (switches.empty() || switches.back().level != s.level) switches.push_back(s);
      }
      wanted += held * static_cast<int>(level) / 1000;
      now += held;
    }
    const Duration missed = wanted - given(switches, now - kStart);
    EXPECT_LE(std::chrono::abs(missed), period) << "seed " << seed;
    for (std::size_t i = 1; i < switches.size(); ++i) {
      EXPECT_GE(switches[i].at - switches[i - 1].at, shortest)
          << "seed " << seed << ", switch " << i;
    }
  }
}

}  // namespace
}  // namespace tubwarden
