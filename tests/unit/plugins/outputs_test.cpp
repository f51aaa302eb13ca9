// The host's own turn around a driver whose answers are chosen here: what it calls and what it
// tells.
#include "host/outputs.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <deque>
#include <functional>
#include <thread>

namespace tubwarden::host {
namespace {

using namespace std::chrono_literals;

/// A driver's calls in order, and the answers it is to give (TW_OK when none is left).
struct Script {
  std::vector<std::string> calls;
  std::deque<std::int32_t> apply_answers, safe_answers;
  const tw_host* host = nullptr;
  std::uint32_t output = 0, safe_told = 0;
};

std::int32_t next(std::deque<std::int32_t>& answers) {
  if (answers.empty()) return TW_OK;
  const std::int32_t answer = answers.front();
  answers.pop_front();
  return answer;
}

Script* script = nullptr;  // plugin tables carry no context of their own

std::int32_t open_output(const tw_host* host, std::uint32_t output, const tw_output* spec,
                         void** handle) {
  script->safe_told = spec->safe_permille;
  script->calls.push_back("open");
  script->host = host;
  script->output = output;
  *handle = script;
  return TW_OK;
}
std::int32_t apply(void*, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  script->calls.push_back("apply " + std::to_string(level));
  return next(script->apply_answers);
}
std::int32_t make_safe(void*) {
  script->calls.push_back("safe");
  return next(script->safe_answers);
}
void close_output(void*) { script->calls.push_back("close"); }

constexpr tw_plugin kPlugin = {
    TW_ABI, sizeof(tw_plugin), TW_KIND_ACTUATOR, TW_IS_NETWORK, "script", nullptr, 0, open_output,
    apply,  make_safe,         close_output,     nullptr};

std::uint64_t stamp(Duration ago = Duration{0}) {
  return static_cast<std::uint64_t>((boot_now() - ago).time_since_epoch().count());
}

class OutputsTest : public testing::Test {
 protected:
  void SetUp() override { script = &script_; }
  void TearDown() override { script = nullptr; }
  void open() {
    outputs_.open({1, "tub/fan", "{}", "{}", 0, 3000, 0});
    script_.calls.clear();
    told_.clear();
  }
  void apply(std::uint32_t level, std::uint64_t sequence, std::uint32_t run_ms = 0,
             Duration ago = Duration{0}) {
    outputs_.apply({1, level, run_ms, 3000, sequence, stamp(ago)});
  }
  using Calls = std::vector<std::string>;

  Script script_;
  Voice voice_;
  Watchdog watchdog_{[](const WatchedCall&) { std::abort(); }};
  std::vector<protocol::ToDaemon> told_;
  Outputs outputs_{kPlugin, voice_, watchdog_,
                   [this](const protocol::ToDaemon& m) { told_.push_back(m); },
                   [](const std::vector<protocol::Open>&) {}};
};

TEST_F(OutputsTest, safe_follows_open_and_comes_before_close) {
  outputs_.open({1, "tub/fan", "{}", "{}", 0, 3000, 0});
  EXPECT_EQ(script_.calls, (Calls{"open", "safe"}));
  outputs_.close(1);
  EXPECT_EQ(script_.calls, (Calls{"open", "safe", "safe", "close"}));
  EXPECT_EQ(told_.back(), protocol::ToDaemon(protocol::Closed{1}));
}

TEST_F(OutputsTest, an_older_sequence_does_not_reach_the_driver) {
  open();
  apply(1000, 5);
  apply(0, 4);
  apply(0, 5);
  EXPECT_EQ(script_.calls, (Calls{"apply 1000"}));
}

TEST_F(OutputsTest, a_command_that_is_read_after_its_lease_does_not_reach_the_driver) {
  open();
  apply(1000, 5, 0, seconds(4));
  EXPECT_TRUE(script_.calls.empty());
}

TEST_F(OutputsTest, a_level_the_driver_does_not_know_is_refused_by_the_host) {
  open();
  apply(500, 1);
  EXPECT_TRUE(script_.calls.empty());
  const auto* failed = std::get_if<protocol::Failed>(&told_.back());
  ASSERT_NE(failed, nullptr);
  EXPECT_EQ(failed->what, protocol::Failure::apply);
  outputs_.open({2, "tub/other", "{}", "{}", 300, 3000, 0});
  EXPECT_EQ(std::get<protocol::Failed>(told_.back()).what, protocol::Failure::option);
}

TEST_F(OutputsTest, a_failed_command_makes_safe_and_is_told) {
  open();
  script_.apply_answers = {TW_FAILED};
  apply(1000, 1);
  EXPECT_EQ(script_.calls, (Calls{"apply 1000", "safe"}));
  EXPECT_EQ(std::get<protocol::Failed>(told_.back()).what, protocol::Failure::apply);
}

TEST_F(OutputsTest, what_was_out_of_reach_is_made_safe_on_its_return_not_run) {
  open();
  script_.apply_answers = {TW_UNAVAILABLE};
  apply(1000, 1);
  EXPECT_EQ(told_.back(), protocol::ToDaemon(protocol::Fell{1, 1}));
  script_.host->reachable(script_.host->context, 1, 0, "away");
  script_.host->reachable(script_.host->context, 1, 1, "");
  outputs_.listen();
  EXPECT_EQ(script_.calls, (Calls{"apply 1000", "safe"}));
}

TEST_F(OutputsTest, a_held_level_is_set_again_after_an_outage_and_a_timed_run_is_not) {
  open();
  apply(1000, 1);
  script_.host->reachable(script_.host->context, 1, 0, "away");
  script_.host->reachable(script_.host->context, 1, 1, "");
  outputs_.listen();
  EXPECT_EQ(script_.calls, (Calls{"apply 1000", "apply 1000"}));
  apply(1000, 2, 2000);
  script_.host->reachable(script_.host->context, 1, 0, "away");
  script_.host->reachable(script_.host->context, 1, 1, "");
  outputs_.listen();
  EXPECT_EQ(script_.calls, (Calls{"apply 1000", "apply 1000", "apply 1000", "apply 0"}));
}

TEST_F(OutputsTest, an_output_that_cannot_be_made_safe_is_told_once_and_tried_again) {
  open();
  script_.safe_answers = {TW_FAILED, TW_FAILED, TW_OK};
  outputs_.make_safe(1);
  ASSERT_EQ(told_.size(), 1u);
  EXPECT_EQ(std::get<protocol::Failed>(told_[0]).what, protocol::Failure::unsafe);
  for (int tries = 1; tries < 3; ++tries) {
    ASSERT_TRUE(outputs_.next_wake());
    std::this_thread::sleep_for(*outputs_.next_wake() - boot_now());
    outputs_.tick();
  }
  EXPECT_EQ(script_.calls, (Calls{"safe", "safe", "safe"}));
  EXPECT_EQ(told_.size(), 1u);
  EXPECT_FALSE(outputs_.next_wake());
}

TEST_F(OutputsTest, a_renewal_of_a_fallen_loan_tells_again_that_it_fell) {
  open();
  apply(1000, 3);
  outputs_.make_safe(1);
  told_.clear();
  outputs_.renew({1, 3000, 3, stamp()});
  ASSERT_EQ(told_.size(), 1u);
  EXPECT_EQ(told_[0], protocol::ToDaemon(protocol::Fell{1, 3}));
}

TEST_F(OutputsTest, finish_waits_for_what_is_out_of_reach_and_says_what_stayed_so) {
  open();
  script_.safe_answers = {TW_UNAVAILABLE, TW_OK};
  std::thread later([this] { script_.host->reachable(script_.host->context, 1, 1, ""); });
  EXPECT_TRUE(outputs_.finish(seconds(10)));
  later.join();
  EXPECT_EQ(script_.calls, (Calls{"safe", "safe", "close"}));
  open();
  script_.safe_answers.assign(50, TW_UNAVAILABLE);
  EXPECT_FALSE(outputs_.finish(milliseconds(50)));
  EXPECT_EQ(std::get<protocol::Failed>(told_.back()).what, protocol::Failure::unsafe);
}

TEST(WatchdogTest, a_call_that_returns_in_time_is_left_alone_and_a_late_one_is_named) {
  std::atomic<int> hung{0};
  std::string named;
  Watchdog dog([&](const WatchedCall& call) {
    named = call.call;
    ++hung;
  });
  { const Watchdog::Guard quick(dog, {1, "open", 10000}); }
  const Watchdog::Guard late(dog, {1, "apply", 20});
  const auto end = std::chrono::steady_clock::now() + 10s;
  while (hung == 0 && std::chrono::steady_clock::now() < end) std::this_thread::yield();
  EXPECT_EQ(hung, 1);
  EXPECT_EQ(named, "apply");
}

/// The script takes run and rest only, so that a period makes it proportioned.
class SharedTest : public OutputsTest {
 protected:
  void open(std::uint32_t safe, std::uint32_t period_ms = 400) {
    outputs_.open({1, "tub/fan", "{}", "{}", safe, 3000, 0, period_ms, 50});
  }
  /// Turns the outputs as the server does, until `sign` holds.
  bool until(const std::function<bool()>& sign) {
    const auto end = std::chrono::steady_clock::now() + 5s;
    while (!sign()) {
      if (std::chrono::steady_clock::now() > end) return false;
      const auto wake = outputs_.next_wake();
      const auto wait = wake ? std::chrono::ceil<std::chrono::milliseconds>(*wake - boot_now())
                             : std::chrono::milliseconds(20);
      voice_.wait(static_cast<int>(std::clamp<std::int64_t>(wait.count(), 0, 20)));
      outputs_.tick();
      outputs_.listen();
    }
    return true;
  }
  bool until_calls(std::size_t count) {
    return until([&] { return script_.calls.size() >= count; });
  }
};

TEST_F(SharedTest, a_level_between_is_switched_in_time) {
  open(0);
  script_.calls.clear();
  const Instant from = boot_now();
  apply(250, 1);
  ASSERT_TRUE(until_calls(2));
  const Duration ran = boot_now() - from;
  ASSERT_TRUE(until_calls(3));
  const Duration period = boot_now() - from;
  EXPECT_EQ(script_.calls, (Calls{"apply 1000", "apply 0", "apply 1000"}));
  EXPECT_GE(ran, milliseconds(100));
  EXPECT_LT(ran, milliseconds(200)) << "a quarter of 400 ms";
  EXPECT_GE(period, milliseconds(400));
}

TEST_F(SharedTest, without_a_period_a_level_between_is_refused) {
  outputs_.open({1, "tub/fan", "{}", "{}", 300, 3000, 0});
  ASSERT_EQ(told_.size(), 1u);
  EXPECT_EQ(std::get<protocol::Failed>(told_[0]).what, protocol::Failure::option);
  EXPECT_TRUE(script_.calls.empty());
}

TEST_F(SharedTest, a_safe_level_between_begins_at_rest_and_ends_at_rest) {
  open(500);
  ASSERT_TRUE(until_calls(4));
  EXPECT_EQ(script_.safe_told, 0u) << "what the driver sets alone, and the broker's will, is rest";
  EXPECT_EQ(script_.calls, (Calls{"open", "safe", "apply 1000", "apply 0"}));
  script_.calls.clear();
  EXPECT_TRUE(outputs_.finish(seconds(1)));
  EXPECT_EQ(script_.calls, (Calls{"safe", "close"})) << "nobody is left to switch it";
}

TEST_F(SharedTest, only_made_safe_it_never_runs) {
  open(900);
  EXPECT_TRUE(outputs_.finish(seconds(1)));
  EXPECT_EQ(script_.calls, (Calls{"open", "safe", "safe", "close"}));
}

TEST_F(SharedTest, a_lapsed_lease_goes_over_into_the_safe_share) {
  open(500);
  apply(0, 1, 0, milliseconds(2900));
  script_.calls.clear();
  told_.clear();
  ASSERT_TRUE(until_calls(3));
  EXPECT_EQ(script_.calls, (Calls{"safe", "apply 1000", "apply 0"}));
  ASSERT_FALSE(told_.empty());
  EXPECT_TRUE(std::holds_alternative<protocol::Fell>(told_[0]));
}

TEST_F(SharedTest, its_own_word_is_told_as_the_level_that_was_asked_for) {
  open(0);
  apply(250, 1);
  told_.clear();
  script_.host->confirm(script_.host->context, 1, 1000);
  script_.host->confirm(script_.host->context, 1, 0);
  outputs_.listen();
  EXPECT_EQ(told_,
            (std::vector<protocol::ToDaemon>{protocol::Confirm{1, 250}, protocol::Confirm{1, 0}}))
      << "the second is not what it was told";
}

TEST_F(SharedTest, a_failing_safe_share_is_tried_each_second_not_at_once) {
  script_.apply_answers = {TW_FAILED, TW_FAILED};
  const Instant from = boot_now();
  open(500);
  ASSERT_TRUE(until_calls(6));
  EXPECT_EQ(script_.calls, (Calls{"open", "safe", "apply 1000", "safe", "apply 1000", "safe"}));
  EXPECT_GE(boot_now() - from, seconds(1));
}

}  // namespace
}  // namespace tubwarden::host
