// A relay behind a real broker, while host, daemon or broker die or stand still: what it heard, and
// when.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/stat.h>

#include <algorithm>

#include "system/broker/gate.hpp"
#include "system/hosts/relay_bench.hpp"

namespace tubwarden {
namespace {

using namespace relay_bench;

TEST_F(Relay, kill_9_of_the_host_lets_the_broker_send_the_will) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay()});
  ready(b);
  parts::Listener listener(broker_.url(), {kTopic});
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, listener, is_run));
  const std::size_t before = listener.heard(kTopic).size();
  const auto killed = parts::Steady::now();
  ASSERT_EQ(::kill(b.pid("mister"), SIGKILL), 0);
  // The loop stands still here: only the broker can tell the relay.
  const auto will = listener.wait_for(kTopic, is_rest, 3s, before);
  ASSERT_TRUE(will);
  const auto took = std::chrono::duration<double, std::milli>(will->at - killed).count();
  std::printf("host_killed_to_will_ms %.2f (lease 3000 ms)\n", took);
  EXPECT_LT(took, 3000.0);
  EXPECT_TRUE(b.until([&] { return b.pid("mister") != 0; }));
  ready(b);
}

TEST_F(Relay, a_host_that_stands_still_is_missed_by_the_broker_within_the_lease) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay(seconds(11))});
  ready(b);
  parts::Listener listener(broker_.url(), {kTopic});
  b.command("mister", kRun);
  ASSERT_TRUE(hears(b, listener, is_run));
  const std::size_t before = listener.heard(kTopic).size();
  const int pid = b.pid("mister");
  const auto stopped = parts::Steady::now();
  ASSERT_EQ(::kill(pid, SIGSTOP), 0);
  const auto will = listener.wait_for(kTopic, is_rest, 15s, before);
  ::kill(pid, SIGKILL);
  ASSERT_TRUE(will);
  const auto took = std::chrono::duration<double, std::milli>(will->at - stopped).count();
  std::printf("host_stopped_to_will_ms %.2f (lease 11000 ms, keep-alive 3 s)\n", took);
  // One and a half keep-alives, and mosquitto 2.0 looks at its clients every 5 s (seen here).
  EXPECT_LT(took, 11000.0);
}

TEST_F(Relay, the_end_of_the_daemon_is_heard_by_the_relay) {
  const parts::TempFolder folder;
  ASSERT_EQ(::mkfifo((folder.path() / "orders").c_str(), 0600), 0);
  parts::Process supervisor(
      {SUPERVISOR, (folder.path() / "orders").string(), kHost, kPlugins, site(broker_.url())});
  std::ofstream orders(folder.path() / "orders");
  orders << "output tub mister mqtt_relay 0 3000 0 " << kWiring << "\nwant" << std::endl;
  ASSERT_TRUE(parts::wait_until(
      [&] { return supervisor.out().find("mister ready") != std::string::npos; }, 10s));
  parts::Listener listener(broker_.url(), {kTopic});
  orders << "command tub mister 1000 0" << std::endl;
  ASSERT_TRUE(listener.wait_for(kTopic, is_run, 5s));
  const std::size_t before = listener.heard(kTopic).size();
  const auto killed = parts::Steady::now();
  supervisor.signal(SIGKILL);
  const auto safe = listener.wait_for(kTopic, is_rest, 3s, before);
  ASSERT_TRUE(safe);
  std::printf("daemon_killed_to_relay_safe_ms %.2f (lease 3000 ms)\n",
              std::chrono::duration<double, std::milli>(safe->at - killed).count());
}

TEST_F(Relay, a_broker_that_was_killed_and_is_back_hears_no_replayed_run) {
  Bench b(kPlugins, site(broker_.url()));
  b.drivers.want({relay(seconds(15))});
  ready(b);
  b.command("mister", kRun, seconds(10));
  ASSERT_TRUE(b.until([&] { return count(broker_.log(), "'cellar/mister', ... (3 bytes)") == 1; }));
  broker_.kill();
  ASSERT_TRUE(b.until_health("mister", OutputHealth::starting));
  EXPECT_NE(b.last_why("mister").find("the broker is away"), std::string::npos);
  b.command("mister", kRun, seconds(10));  // in the outage: must not come later
  broker_.restart();
  ready(b);
  // Longer than any queue would need: a second connection's worth of traffic passes after it.
  b.command("mister", kRest);
  ASSERT_TRUE(b.until([&] { return count(broker_.log(), "'cellar/mister', ... (1 bytes)") >= 3; }));
  EXPECT_EQ(count(broker_.log(), "'cellar/mister', ... (3 bytes)"), 1u) << broker_.log();
}

TEST_F(Relay, a_held_run_is_set_again_after_an_outage_while_it_is_still_on_loan) {
  Bench b(kPlugins, "{}");
  Gate cut(b.loop, broker_.port());
  b.drivers.site(site(cut.url()));
  b.drivers.want({relay(seconds(15))});
  ready(b);
  b.command("mister", kRun);
  ASSERT_TRUE(b.until([&] { return count(broker_.log(), "(3 bytes)") == 1; }));
  cut.cut();
  ASSERT_TRUE(b.until_health("mister", OutputHealth::starting));
  ready(b);
  EXPECT_TRUE(b.until([&] { return count(broker_.log(), "(3 bytes)") == 2; }));
}

}  // namespace
}  // namespace tubwarden
