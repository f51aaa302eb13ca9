#include "core/output/output_clock.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

using Kind = OutputAction::Kind;
using std::chrono::milliseconds;

constexpr Instant at(int ms) { return Instant{} + milliseconds(ms); }
constexpr Duration ms(int count) { return milliseconds(count); }

TEST(OutputClock, starts_safe_with_nothing_due) {
  OutputClock clock(kRun);
  EXPECT_FALSE(clock.on_loan());
  EXPECT_EQ(clock.level(), kRun);
  EXPECT_FALSE(clock.next_wake());
  EXPECT_EQ(clock.tick(at(1000000)).kind, Kind::none);
}

TEST(OutputClock, a_timed_run_rests_at_its_end_and_stays_on_loan) {
  OutputClock clock(kRest);
  const OutputAction run = clock.apply(kRun, ms(2000), ms(15000), 1, at(0));
  EXPECT_EQ(run.kind, Kind::apply);
  EXPECT_EQ(run.level, kRun);
  EXPECT_EQ(run.run_left, ms(2000));
  EXPECT_EQ(run.lease_left, ms(15000));
  EXPECT_EQ(clock.next_wake(), at(2000));
  EXPECT_EQ(clock.tick(at(1999)).kind, Kind::none);
  const OutputAction rest = clock.tick(at(2000));
  EXPECT_EQ(rest.kind, Kind::rest);
  EXPECT_EQ(rest.level, kRest);
  EXPECT_EQ(rest.sequence, 1u);
  EXPECT_TRUE(clock.on_loan());
  EXPECT_EQ(clock.next_wake(), at(15000));
}

TEST(OutputClock, a_lease_not_renewed_falls_to_safe_once) {
  OutputClock clock(300);
  (void)clock.apply(kRun, ms(0), ms(3000), 1, at(0));
  EXPECT_EQ(clock.tick(at(2999)).kind, Kind::none);
  const OutputAction safe = clock.tick(at(3000));
  EXPECT_EQ(safe.kind, Kind::make_safe);
  EXPECT_EQ(safe.level, 300u);
  EXPECT_TRUE(safe.lease_over);
  EXPECT_EQ(clock.level(), 300u);
  EXPECT_EQ(clock.counters().lapsed, 1u);
  EXPECT_EQ(clock.tick(at(9000)).kind, Kind::none);
  EXPECT_FALSE(clock.next_wake());
}

TEST(OutputClock, safe_wins_when_run_and_lease_are_both_over) {
  OutputClock clock(kRun);  // safe is to run: resting instead would be wrong
  (void)clock.apply(500, ms(1000), ms(2000), 1, at(0));
  const OutputAction late = clock.tick(at(5000));
  EXPECT_EQ(late.kind, Kind::make_safe);
  EXPECT_EQ(late.level, kRun);
}

TEST(OutputClock, a_rest_is_on_loan_too) {
  OutputClock clock(kRun);
  EXPECT_EQ(clock.apply(kRest, ms(0), ms(3000), 1, at(0)).kind, Kind::apply);
  EXPECT_EQ(clock.tick(at(3000)).kind, Kind::make_safe);
}

TEST(OutputClock, a_run_of_level_zero_is_a_rest_without_an_end) {
  OutputClock clock(kRest);
  const OutputAction rest = clock.apply(kRest, ms(500), ms(3000), 1, at(0));
  EXPECT_EQ(rest.run_left, ms(0));
  EXPECT_EQ(clock.next_wake(), at(3000));
}

TEST(OutputClock, renewal_moves_the_end_of_the_loan_and_not_of_the_run) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(4000), ms(3000), 7, at(0));
  EXPECT_TRUE(clock.renew(ms(3000), 7, at(1000)));
  EXPECT_EQ(clock.tick(at(3500)).kind, Kind::none);
  EXPECT_TRUE(clock.renew(ms(3000), 7, at(3600)));
  EXPECT_EQ(clock.tick(at(4000)).kind, Kind::rest);
  EXPECT_EQ(clock.next_wake(), at(6600));
}

TEST(OutputClock, stale_commands_and_renewals_are_dropped_and_counted) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(0), ms(3000), 5, at(0));
  EXPECT_EQ(clock.apply(kRest, ms(0), ms(3000), 4, at(10)).kind, Kind::none);
  EXPECT_EQ(clock.apply(kRest, ms(0), ms(3000), 5, at(10)).kind, Kind::none);
  EXPECT_FALSE(clock.renew(ms(3000), 4, at(20)));
  EXPECT_FALSE(clock.renew(ms(0), 5, at(20)));
  EXPECT_EQ(clock.level(), kRun);
  EXPECT_EQ(clock.counters().stale, 4u);
  EXPECT_EQ(clock.next_wake(), at(3000));
}

TEST(OutputClock, a_command_without_a_lease_is_dropped) {
  OutputClock clock(kRest);
  EXPECT_EQ(clock.apply(kRun, ms(0), ms(0), 1, at(0)).kind, Kind::none);
  EXPECT_FALSE(clock.on_loan());
  EXPECT_EQ(clock.sequence(), 0u);
}

TEST(OutputClock, a_lease_that_ran_out_is_not_brought_back_by_a_renewal) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(0), ms(3000), 1, at(0));
  // A frozen host: the renewal is read before the tick that would have seen the end.
  EXPECT_FALSE(clock.renew(ms(3000), 1, at(3000)));
  EXPECT_EQ(clock.tick(at(3000)).kind, Kind::make_safe);
  EXPECT_FALSE(clock.renew(ms(3000), 1, at(3001)));
  EXPECT_EQ(clock.apply(kRun, ms(0), ms(3000), 2, at(3002)).kind, Kind::apply);
}

TEST(OutputClock, a_newer_command_replaces_run_and_lease) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(1000), ms(9000), 1, at(0));
  (void)clock.apply(kRun, ms(0), ms(3000), 2, at(500));
  EXPECT_EQ(clock.tick(at(1500)).kind, Kind::none);
  EXPECT_EQ(clock.next_wake(), at(3500));
}

TEST(OutputClock, again_sets_a_held_level_once_more_while_on_loan) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(0), ms(15000), 1, at(0));
  const OutputAction held = clock.again(at(4000));
  EXPECT_EQ(held.kind, Kind::apply);
  EXPECT_EQ(held.level, kRun);
  EXPECT_EQ(held.lease_left, ms(11000));
}

TEST(OutputClock, again_never_replays_an_interrupted_timed_run) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(5000), ms(15000), 1, at(0));
  EXPECT_EQ(clock.again(at(2000)).kind, Kind::rest);
  EXPECT_EQ(clock.level(), kRest);
  EXPECT_EQ(clock.tick(at(5000)).kind, Kind::none);
}

TEST(OutputClock, again_without_a_loan_makes_safe) {
  OutputClock never(kRest);
  EXPECT_EQ(never.again(at(0)).kind, Kind::make_safe);
  OutputClock lapsed(kRest);
  (void)lapsed.apply(kRun, ms(0), ms(3000), 1, at(0));
  EXPECT_EQ(lapsed.again(at(3000)).kind, Kind::make_safe);
  EXPECT_EQ(lapsed.counters().lapsed, 1u);
  EXPECT_FALSE(lapsed.on_loan());
}

TEST(OutputClock, again_after_a_fall_makes_safe_and_old_sequences_stay_old) {
  OutputClock clock(kRest);
  (void)clock.apply(kRun, ms(0), ms(15000), 3, at(0));
  clock.fall(at(50));
  EXPECT_EQ(clock.again(at(100)).kind, Kind::make_safe);
  EXPECT_EQ(clock.apply(kRun, ms(0), ms(15000), 3, at(200)).kind, Kind::none);
}

TEST(OutputClock, an_output_that_falls_by_itself_is_set_again_within_that_time) {
  OutputClock clock(kRest, ms(3000));
  (void)clock.apply(kRun, ms(2500), ms(15000), 1, at(0));
  EXPECT_EQ(clock.next_wake(), at(1000));
  const OutputAction repeat = clock.tick(at(1000));
  EXPECT_EQ(repeat.kind, Kind::apply);
  EXPECT_EQ(repeat.run_left, ms(1500));
  EXPECT_EQ(clock.tick(at(2000)).kind, Kind::apply);
  EXPECT_EQ(clock.tick(at(2500)).kind, Kind::rest);
  EXPECT_EQ(clock.next_wake(), at(15000)) << "a rest needs no repeat";
}

TEST(OutputClock, a_safe_level_that_runs_is_repeated_too) {
  OutputClock clock(kRun, ms(3000));
  (void)clock.apply(kRest, ms(0), ms(3000), 1, at(0));
  EXPECT_EQ(clock.tick(at(3000)).kind, Kind::make_safe);
  EXPECT_EQ(clock.next_wake(), at(4000));
  const OutputAction repeat = clock.tick(at(4000));
  EXPECT_EQ(repeat.kind, Kind::make_safe);
  EXPECT_FALSE(repeat.lease_over);
}

}  // namespace
}  // namespace tubwarden
