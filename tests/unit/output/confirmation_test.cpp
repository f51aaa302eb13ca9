#include "core/output/confirmation.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

constexpr Instant at(int ms) { return Instant{} + milliseconds(ms); }

TEST(Confirmation, nothing_is_awaited_before_a_command) {
  Confirmation word;
  word.heard(kRun, at(0));
  EXPECT_FALSE(word.due());
  EXPECT_FALSE(word.overdue(at(100000)));
  EXPECT_EQ(word.last(), kRun);
}

TEST(Confirmation, a_held_level_without_an_answer_is_overdue_after_five_seconds) {
  Confirmation word;
  word.commanded(kRun, Duration{0}, at(0));
  EXPECT_FALSE(word.overdue(at(4999)));
  EXPECT_TRUE(word.overdue(at(5000)));
  word.heard(kRun, at(6000));
  EXPECT_FALSE(word.overdue(at(6000)));
  EXPECT_FALSE(word.due());
}

TEST(Confirmation, the_rest_at_the_end_of_a_run_wants_its_own_answer) {
  Confirmation word;
  word.commanded(kRun, seconds(2), at(0));
  word.heard(kRun, at(100));
  EXPECT_EQ(word.due(), at(7000));
  word.heard(kRest, at(2100));
  EXPECT_FALSE(word.due());
}

TEST(Confirmation, further_commands_do_not_put_the_deadline_off) {
  Confirmation word;
  for (int t = 0; t < 5000; t += 500)
    word.commanded(t % 1000 == 0 ? kRun : kRest, Duration{0}, at(t));
  EXPECT_TRUE(word.overdue(at(5000)));
}

TEST(Confirmation, an_output_that_already_stands_so_owes_no_answer) {
  Confirmation word;
  word.commanded(kRun, Duration{0}, at(0));
  word.heard(kRun, at(10));
  word.commanded(kRun, Duration{0}, at(20));
  EXPECT_FALSE(word.due());
  word.commanded(kRun, seconds(1), at(30));
  EXPECT_EQ(word.due(), at(6030));
}

TEST(Confirmation, a_hand_that_switches_it_is_noticed) {
  Confirmation word;
  word.commanded(kRest, Duration{0}, at(0));
  word.heard(kRest, at(10));
  word.heard(kRun, at(60000));
  EXPECT_FALSE(word.overdue(at(64999)));
  EXPECT_TRUE(word.overdue(at(65000)));
  word.heard(kRest, at(65001));
  EXPECT_FALSE(word.due());
}

TEST(Confirmation, a_fall_to_safe_expects_the_safe_level) {
  Confirmation word;
  word.commanded(kRest, Duration{0}, at(0));
  word.heard(kRest, at(10));
  word.fell(kRun, at(3000));
  EXPECT_TRUE(word.overdue(at(8000)));
  word.forget();
  EXPECT_FALSE(word.overdue(at(8000)));
}

}  // namespace
}  // namespace tubwarden
