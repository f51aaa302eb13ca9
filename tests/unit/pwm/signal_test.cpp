// The order of writes to a PWM channel, against the rules by which the kernel takes or refuses
// them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "pwm/signal.hpp"

namespace tubwarden::pwm {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

/// Linux, drivers/pwm/core.c: each file's store changes one member and applies the whole state;
/// __pwm_apply() refuses a state that has no period, or a duty above it. Many chips' drivers refuse
/// another polarity while they are enabled.
class KernelChannel {
 public:
  explicit KernelChannel(Signal signal) : now(signal) {}
  bool write(const Write& write) {
    Signal next = now;
    if (write.file == "period") next.period_ns = std::stoull(write.text);
    if (write.file == "duty_cycle") next.duty_ns = std::stoull(write.text);
    if (write.file == "enable") next.enabled = write.text == "1";
    if (write.file == "polarity") next.inversed = write.text == "inversed";
    if (next.period_ns == 0 || next.duty_ns > next.period_ns) return false;
    if (next.inversed != now.inversed && now.enabled) return false;
    if (next.enabled && !now.enabled) enabled_at = next;
    now = next;
    return true;
  }
  Signal now;
  Signal enabled_at;  ///< what the pin showed first
};

TEST(Signal, IsAShareOfThePeriod) {
  EXPECT_EQ(signal_at(300, 25000, false), (Signal{true, 40000, 12000, false}));
  EXPECT_EQ(signal_at(0, 25000, true), (Signal{true, 40000, 0, true}));
  EXPECT_EQ(signal_at(1000, 50, false), (Signal{true, 20'000'000, 20'000'000, false}));
  EXPECT_EQ(signal_at(1, 1, false), (Signal{true, 1'000'000'000, 1'000'000, false}));
  EXPECT_EQ(signal_at(999, 1e6, false), (Signal{true, 1000, 999, false}));
  EXPECT_EQ(signal_at(4000, 1e6, false).duty_ns, 1000u);
}

TEST(Writes, BeginWithThePeriodAndEnableLast) {
  EXPECT_THAT(writes({}, {true, 40000, 12000, true}),
              ElementsAre(Write{"period", "40000"}, Write{"polarity", "inversed"},
                          Write{"duty_cycle", "12000"}, Write{"enable", "1"}));
}

TEST(Writes, AreNoneWhenItStands) {
  const Signal signal{true, 40000, 12000, true};
  EXPECT_THAT(writes(signal, signal), IsEmpty());
}

TEST(Writes, OfAnotherLevelAreOne) {
  EXPECT_THAT(writes({true, 40000, 12000, false}, {true, 40000, 0, false}),
              ElementsAre(Write{"duty_cycle", "0"}));
}

TEST(Writes, LowerTheDutyBeforeAShorterPeriod) {
  EXPECT_THAT(writes({true, 40000, 30000, false}, {true, 20000, 5000, false}),
              ElementsAre(Write{"duty_cycle", "5000"}, Write{"period", "20000"}));
}

TEST(Writes, TakeEveryChannelToEverySignalByTheKernelsRules) {
  int tried = 0;
  for (const std::uint64_t period : {0, 1000, 40000, 41000}) {
    for (const std::uint64_t duty : {0, 1, 1000, 39999, 40000, 41000}) {
      for (const bool enabled : {false, true}) {
        for (const bool inversed : {false, true}) {
          // The kernel itself has no such channel.
          if (duty > period || (enabled && period == 0)) continue;
          for (const double hz : {25000.0, 1e6, 1.0}) {
            for (const std::uint32_t level : {0u, 1u, 500u, 999u, 1000u}) {
              for (const bool wants_inversed : {false, true}) {
                const Signal from{enabled, period, duty, inversed};
                const Signal to = signal_at(level, hz, wants_inversed);
                KernelChannel channel(from);
                for (const Write& each : writes(from, to)) {
                  ASSERT_TRUE(channel.write(each))
                      << each.file << " = " << each.text << " from " << period << " " << duty;
                }
                ASSERT_EQ(channel.now, to);
                if (!enabled) {
                  ASSERT_EQ(channel.enabled_at, to);  // no other level first
                }
                ++tried;
              }
            }
          }
        }
      }
    }
  }
  EXPECT_GT(tried, 1000);
}

}  // namespace
}  // namespace tubwarden::pwm
