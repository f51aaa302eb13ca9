#include "core/output/restart_policy.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

constexpr Instant at(Duration since_boot) { return Instant{} + since_boot; }

TEST(RestartPolicy, two_crashes_are_restarted_the_second_later) {
  RestartPolicy policy;
  const RestartPolicy::Verdict first = policy.crashed(at(seconds(1)));
  EXPECT_FALSE(first.failed_safe);
  EXPECT_EQ(first.backoff, RestartPolicy::kFirstBackoff);
  const RestartPolicy::Verdict second = policy.crashed(at(seconds(2)));
  EXPECT_FALSE(second.failed_safe);
  EXPECT_EQ(second.backoff, RestartPolicy::kSecondBackoff);
}

TEST(RestartPolicy, the_third_within_ten_minutes_fails_safe_until_acknowledged) {
  RestartPolicy policy;
  (void)policy.crashed(at(minutes(0)));
  (void)policy.crashed(at(minutes(5)));
  EXPECT_TRUE(policy.crashed(at(minutes(10) - milliseconds(1))).failed_safe);
  EXPECT_TRUE(policy.failed_safe());
  EXPECT_TRUE(policy.crashed(at(hours(20))).failed_safe) << "time alone does not acknowledge";
  policy.acknowledge();
  EXPECT_FALSE(policy.failed_safe());
  EXPECT_EQ(policy.crashed(at(hours(21))).backoff, RestartPolicy::kFirstBackoff);
  EXPECT_EQ(policy.crashes(), 5u);
}

TEST(RestartPolicy, a_crash_ten_minutes_old_no_longer_counts) {
  RestartPolicy policy;
  (void)policy.crashed(at(minutes(0)));
  (void)policy.crashed(at(minutes(1)));
  const RestartPolicy::Verdict third = policy.crashed(at(minutes(10)));
  EXPECT_FALSE(third.failed_safe);
  EXPECT_EQ(third.backoff, RestartPolicy::kSecondBackoff);
}

TEST(RestartPolicy, an_acknowledgement_forgets_the_crashes_before_it) {
  RestartPolicy policy;
  (void)policy.crashed(at(seconds(0)));
  (void)policy.crashed(at(seconds(1)));
  policy.acknowledge();
  EXPECT_FALSE(policy.crashed(at(seconds(2))).failed_safe);
  EXPECT_FALSE(policy.crashed(at(seconds(3))).failed_safe);
  EXPECT_TRUE(policy.crashed(at(seconds(4))).failed_safe);
}

}  // namespace
}  // namespace tubwarden
