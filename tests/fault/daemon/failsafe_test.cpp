// Failing safe, by breaking each part on purpose: what the relay heard, and when.
#include <gtest/gtest.h>
#include <signal.h>

#include "system/daemon/rig.hpp"

namespace {

using namespace rig;

const std::string kMister = "shed/tub-1/mister";
constexpr auto kLease = 3s;  ///< of the rig's outputs

struct Misting : Rig, ::testing::Test {
  void SetUp() override {
    write_tub({});
    start();
    cli({"phase", "tub-1", "fruiting"});
    listener = std::make_unique<parts::Listener>(broker().url(), std::vector<std::string>{kMister});
    run_mister();
  }
  void run_mister() {
    const std::size_t n = listener->heard(kMister).size();
    air("tub-1", 80.0);
    ASSERT_TRUE(listener->wait_for(
        kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 10s, n))
        << log();
  }
  std::optional<parts::Heard> hears_rest(std::size_t from) {
    return listener->wait_for(
        kMister, [](const parts::Heard& h) { return h.payload == "0"; }, 10s, from);
  }
  int relay_host() {
    const auto hosts = daemon().children("mqtt_relay");
    return hosts.empty() ? 0 : hosts.front();
  }
  std::unique_ptr<parts::Listener> listener;
};

TEST_F(Misting, DaemonKilledTheRelayHearsItsSafePayloadWithinTheLease) {
  const std::size_t n = listener->heard(kMister).size();
  const auto killed = parts::Steady::now();
  daemon().signal(SIGKILL);
  const auto rest = hears_rest(n);
  ASSERT_TRUE(rest);
  EXPECT_LT(rest->at - killed, kLease);
}

TEST_F(Misting, HostKilledTheBrokerSendsTheWillWithinTheLease) {
  const int host = relay_host();
  ASSERT_GT(host, 0);
  const std::size_t n = listener->heard(kMister).size();
  const auto killed = parts::Steady::now();
  ::kill(host, SIGKILL);
  const auto rest = hears_rest(n);
  ASSERT_TRUE(rest);
  EXPECT_LT(rest->at - killed, kLease);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["restarts"] >= 1; })) << log();
}

TEST_F(Misting, HostsThatKeepDyingAreLeftDeadAndTheRelayRestsUntilReleased) {
  int last = 0;
  for (int crash = 0; crash < 3; ++crash) {
    ASSERT_TRUE(wait([&] { return relay_host() > 0 && relay_host() != last; })) << log();
    last = relay_host();
    ::kill(last, SIGKILL);
  }
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["health"] == "failed safe"; }))
      << log();
  ASSERT_TRUE(wait([&] { return listener->heard(kMister).back().payload == "0"; }));
  const std::size_t n = listener->heard(kMister).size();
  air("tub-1", 79.0);  // it would be called, were it not for this
  EXPECT_EQ(cli({"outputs", "release", "tub-1", "mister"}).status, 0);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["health"] == "ready"; })) << log();
  air("tub-1", 78.5);
  ASSERT_TRUE(listener->wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 10s, n))
      << log();
  const auto all = listener->heard(kMister);
  EXPECT_EQ(all[n].payload, "0") << "released, it begins safe";
}

TEST_F(Misting, AllKilledAtOnceTheBrokerSendsTheWillAndTheStopPostStepFindsAllOfThem) {
  std::vector<int> all = daemon().children("tubwarden-plugin-host");
  all.push_back(daemon().pid());
  ASSERT_GE(all.size(), 2u);
  const std::size_t n = listener->heard(kMister).size();
  for (const int pid : all) ::kill(pid, SIGSTOP);  // so that none sees another's end
  const auto killed = parts::Steady::now();
  for (const int pid : all) ::kill(pid, SIGKILL);
  const auto rest = hears_rest(n);
  ASSERT_TRUE(rest);
  EXPECT_LT(rest->at - killed, kLease);
  const parts::Ran step = parts::run({std::string(TUBWARDEN_BIN_DIR) + "/tubwarden-plugin-host",
                                      "--make-safe", (folder().path() / "outputs.list").string()});
  EXPECT_EQ(step.status, 0) << step.err;
  EXPECT_NE(step.err.find("2 of 2 outputs made safe"), std::string::npos) << step.err;
}

TEST_F(Misting, DaemonFrozenTheLeaseLapses) {
  const std::size_t n = listener->heard(kMister).size();
  const auto frozen = parts::Steady::now();
  daemon().signal(SIGSTOP);
  const auto rest = hears_rest(n);
  daemon().signal(SIGCONT);
  ASSERT_TRUE(rest);
  EXPECT_LT(rest->at - frozen, kLease + 1s) << "the last renewal may have been just now";
}

TEST_F(Misting, OrderlyEndMakesSafe) {
  const std::size_t n = listener->heard(kMister).size();
  EXPECT_EQ(stop(), 0);
  EXPECT_TRUE(hears_rest(n));
}

TEST_F(Misting, BrokerKilledAndBackNothingIsReplayed) {
  broker().kill();
  ASSERT_TRUE(wait(
      [&] {
        const auto causes = alert_causes("site");
        return std::find(causes.begin(), causes.end(), "broker_lost") != causes.end();
      },
      15s))
      << log();
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 0.0) << "blind is safe";
  listener.reset();
  broker().restart();
  parts::Listener after(broker().url(), {kMister});
  ASSERT_TRUE(wait([&] { return status()["broker"]["up"].get<bool>(); }, 40s)) << log();
  ASSERT_TRUE(wait([&] { return alert_causes("site").empty(); })) << "the alert returns";
  // The reading of before (80 %) would call the mister; it must not count any more.
  for (const json& q : json(chamber("tub-1")["air"])) {
    if (q["quantity"] == "humidity") {
      EXPECT_FALSE(q["usable"].get<bool>());
    }
  }
  for (const std::string& p : payloads(after, kMister)) EXPECT_NE(p, "1") << "no replayed run";
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["health"] == "ready"; }, 40s));
  air("tub-1", 79.0);
  EXPECT_TRUE(after.wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 20s))
      << log();
}

TEST_F(Misting, RestartKeepsPhaseAndShortestRest) {
  TubText slow;
  slow.shortest_rest = "3s";
  write_tub(slow);
  ASSERT_TRUE(wait([&] { return actuator("tub-1", "mister")["level_pct"] == 0.0; }) ||
              actuator("tub-1", "mister")["level_pct"] == 100.0);
  stop();
  const auto restarted = parts::Steady::now();
  start();
  const std::size_t n = listener->heard(kMister).size();
  EXPECT_EQ(tub("tub-1")["phase"], "fruiting");
  air("tub-1", 78.0);
  const auto run = listener->wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 10s, n);
  ASSERT_TRUE(run) << log();
  EXPECT_GE(run->at - restarted, 3s) << "a restart counts as a stop just now";
}

TEST(StaleSensor, AlertsAndStandsSafe) {
  Rig r;
  std::string text = Rig::text_of({});
  text.replace(text.find("stale_after: 2m"), 15, "stale_after: 2s");
  r.folder().write(r.config("tubs/tub-1.yaml"), text);
  r.start();
  r.cli({"phase", "tub-1", "fruiting"});
  parts::Listener relay(r.broker().url(), {kMister});
  r.publish("shed/tub-1/air", R"({"rh":80,"t":17})");
  ASSERT_TRUE(relay.wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "1"; }, 10s));
  const std::size_t n = relay.heard(kMister).size();
  const auto rest = relay.wait_for(
      kMister, [](const parts::Heard& h) { return h.payload == "0"; }, 10s, n);
  ASSERT_TRUE(rest) << r.log();
  ASSERT_TRUE(r.wait([&] {
    const auto causes = r.alert_causes("tub-1");
    return std::find(causes.begin(), causes.end(), "sensor_air_stale") != causes.end();
  })) << r.log();
}

}  // namespace
