#include <gtest/gtest.h>

#include "system/broker/gate.hpp"
#include "system/broker/linked.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;

const auto kAny = [](const parts::Heard&) { return true; };

BrokerLink to(const std::string& url) {
  BrokerLink link;
  link.url = url;
  return link;
}

TEST(BrokerLink, PassesMessagesWithTopicRetainedFlagAndArrival) {
  parts::Mosquitto mosquitto;
  parts::publish(mosquitto, "cellar/old", "86.5", true);
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  const Instant before = linked.clock.now();
  linked.start({"cellar/old", "cellar/new"});
  ASSERT_TRUE(linked.turn_until([&] { return !linked.messages.empty(); }));
  EXPECT_EQ(linked.messages[0].topic, "cellar/old");
  EXPECT_EQ(linked.messages[0].payload, "86.5");
  EXPECT_TRUE(linked.messages[0].retained) << "of unknown age";
  ASSERT_TRUE(linked.heard(mosquitto, "cellar/new", "87"));
  const auto live = linked.find("cellar/new", "87");
  EXPECT_FALSE(live->retained);
  EXPECT_GT(live->arrived, before);
  EXPECT_LT(live->arrived, linked.clock.now());
  EXPECT_EQ(linked.ups, 1);
  EXPECT_EQ(linked.foreign_calls, 0);
  EXPECT_EQ(linked.broker->protocol(), 5);
  EXPECT_EQ(linked.broker->counters().connects, 1u);
  EXPECT_TRUE(linked.turn_until(
      [&] { return linked.broker->counters().received == linked.messages.size(); }));
}

TEST(BrokerLink, PublishesLiveAndRetained) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  linked.start({});
  ASSERT_TRUE(linked.turn_until([&] { return linked.broker->is_up(); }));
  linked.broker->publish("tubwarden/cellar/a", "kept", true);
  parts::Listener early(mosquitto.url(), {"tubwarden/#"});
  linked.broker->publish("tubwarden/cellar/b", "live", false);
  ASSERT_TRUE(early.wait_for("tubwarden/cellar/b", kAny, 5s));
  EXPECT_FALSE(early.heard("tubwarden/cellar/b")[0].retained);
  ASSERT_TRUE(early.wait_for("tubwarden/cellar/a", kAny, 5s));
  parts::Listener late(mosquitto.url(), {"tubwarden/#"});
  ASSERT_TRUE(late.wait_for("tubwarden/cellar/a", kAny, 5s));
  EXPECT_TRUE(late.heard("tubwarden/cellar/a")[0].retained);
  EXPECT_TRUE(late.heard("tubwarden/cellar/b").empty());
  EXPECT_EQ(linked.broker->counters().published, 2u);
  EXPECT_EQ(linked.broker->counters().unsent, 0u);
}

TEST(BrokerLink, WantChangesSubscriptions) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  linked.start({"a", "b"});
  ASSERT_TRUE(linked.heard(mosquitto, "a", "1"));
  linked.broker->want({"b", "c"});
  ASSERT_TRUE(linked.heard(mosquitto, "c", "2"));
  parts::publish(mosquitto, "a", "unwanted");
  ASSERT_TRUE(linked.heard(mosquitto, "b", "3"));
  EXPECT_FALSE(linked.find("a", "unwanted"));
}

TEST(BrokerLink, FirstConnectMayFailAndIsTriedForEver) {
  parts::Mosquitto mosquitto;
  mosquitto.kill();
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  linked.start({"a"});
  linked.broker->publish("x", "lost", true);
  ASSERT_TRUE(linked.turn_until([&] { return !linked.downs.empty(); }));
  EXPECT_FALSE(linked.broker->is_up());
  EXPECT_EQ(linked.broker->counters().unsent, 1u);
  linked.turn_until([] { return false; }, 600ms);  // several attempts, for the same reason
  EXPECT_EQ(linked.downs.size(), 1u) << "the same reason is told once";
  mosquitto.restart();
  ASSERT_TRUE(linked.heard(mosquitto, "a", "at last"));
  EXPECT_EQ(linked.ups, 1);
}

TEST(BrokerLink, BrokerKilledAndBackIsSubscribedAgainAndNothingIsReplayed) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  linked.start({"a", "b"});
  ASSERT_TRUE(linked.heard(mosquitto, "a", "before"));
  for (int round = 1; round <= 2; ++round) {
    mosquitto.kill();
    ASSERT_TRUE(linked.turn_until([&] { return !linked.broker->is_up(); }));
    ASSERT_FALSE(linked.downs.empty());
    EXPECT_FALSE(linked.downs.back().empty());
    linked.broker->publish("run", "must not come later", false);
    mosquitto.restart();
    parts::Listener relay(mosquitto.url(), {"run"});
    const std::string word = "after " + std::to_string(round);
    ASSERT_TRUE(linked.heard(mosquitto, "a", word));
    ASSERT_TRUE(linked.heard(mosquitto, "b", word));
    linked.broker->publish("run", "now", false);
    ASSERT_TRUE(relay.wait_for("run", kAny, 5s));
    EXPECT_EQ(relay.heard("run")[0].payload, "now") << "nothing of the outage is sent";
    EXPECT_EQ(linked.ups, round + 1);
    EXPECT_EQ(linked.broker->counters().unsent, static_cast<std::uint64_t>(round));
  }
  EXPECT_EQ(linked.broker->counters().connects, 3u);
  EXPECT_EQ(linked.foreign_calls, 0);
}

TEST(BrokerLink, WantedWhileAwayIsSubscribedAtTheNextConnect) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  linked.start({"a"});
  ASSERT_TRUE(linked.turn_until([&] { return linked.broker->is_up(); }));
  mosquitto.kill();
  ASSERT_TRUE(linked.turn_until([&] { return !linked.broker->is_up(); }));
  linked.broker->want({"b"});
  mosquitto.restart();
  ASSERT_TRUE(linked.heard(mosquitto, "b", "1"));
  parts::publish(mosquitto, "a", "unwanted");
  ASSERT_TRUE(linked.heard(mosquitto, "b", "2"));
  EXPECT_FALSE(linked.find("a", "unwanted"));
}

TEST(BrokerLink, WillIsRetainedWhenTheConnectionIsCutAndNotAtAGoodbye) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Gate gate(loop, mosquitto.port());
  BrokerLink link = to(gate.url());
  link.will_topic = "tubwarden/cellar/awake";
  link.will_payload = R"({"awake":false})";
  parts::Listener listener(mosquitto.url(), {"tubwarden/#"});
  auto linked = std::make_unique<Linked>(loop, link);
  linked->start({"a"});
  ASSERT_TRUE(linked->turn_until([&] { return linked->broker->is_up(); }));
  EXPECT_TRUE(listener.heard().empty());
  gate.cut();
  ASSERT_TRUE(listener.wait_for("tubwarden/cellar/awake", kAny, 5s));
  EXPECT_EQ(listener.heard()[0].payload, R"({"awake":false})");
  parts::Listener late(mosquitto.url(), {"tubwarden/#"});
  ASSERT_TRUE(late.wait_for("tubwarden/cellar/awake", kAny, 5s));
  EXPECT_TRUE(late.heard()[0].retained);

  ASSERT_TRUE(linked->turn_until([&] { return linked->ups == 2; })) << "through the gate again";
  listener.clear();
  linked->broker.reset();
  const std::string goodbye = "Received DISCONNECT from tubwarden-test";
  ASSERT_TRUE(
      linked->turn_until([&] { return mosquitto.log().find(goodbye) != std::string::npos; }));
  parts::publish(mosquitto, "tubwarden/sign", "1");
  ASSERT_TRUE(listener.wait_for("tubwarden/sign", kAny, 5s));
  EXPECT_TRUE(listener.heard("tubwarden/cellar/awake").empty()) << "a goodbye is no will";
}

class Fallback : public testing::TestWithParam<Gate::Manner> {};
INSTANTIATE_TEST_SUITE_P(Manners, Fallback,
                         testing::Values(Gate::Manner::refuse_5_as_311,
                                         Gate::Manner::refuse_5_as_5));

TEST_P(Fallback, To311WhereFiveIsRefused) {
  parts::Mosquitto mosquitto;
  parts::publish(mosquitto, "old", "1", true);
  boost::asio::io_context loop;
  Gate gate(loop, mosquitto.port(), GetParam());
  BrokerLink link = to(gate.url());
  link.will_topic = "awake";
  link.will_payload = "no";
  Linked linked(loop, link);
  linked.start({"a", "old"});
  ASSERT_TRUE(linked.heard(mosquitto, "a", "heard by 3.1.1"));
  EXPECT_EQ(linked.broker->protocol(), 4);
  EXPECT_EQ(gate.refused(), 1);
  EXPECT_TRUE(linked.downs.empty()) << "falling back is no outage";
  ASSERT_TRUE(linked.find("old", "1"));
  EXPECT_TRUE(linked.find("old", "1")->retained);
  EXPECT_NE(mosquitto.log().find("as tubwarden-test (p2,"), std::string::npos)
      << "mosquitto calls 3.1.1 p2";
  parts::Listener listener(mosquitto.url(), {"awake", "b"});
  linked.broker->publish("b", "said by 3.1.1", false);
  ASSERT_TRUE(linked.turn_until([&] { return !listener.heard("b").empty(); }));  // by the gate
  gate.cut();
  ASSERT_TRUE(listener.wait_for("awake", kAny, 5s)) << "the will of 3.1.1";
  ASSERT_TRUE(linked.heard(mosquitto, "a", "again"));
  EXPECT_EQ(gate.refused(), 1) << "5 is not tried again";
}

TEST(BrokerLink, RefusedSubscriptionsAreCounted) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Gate gate(loop, mosquitto.port(), Gate::Manner::refuse_subscriptions);
  Linked linked(loop, to(gate.url()));
  linked.start({"a"});
  EXPECT_TRUE(linked.turn_until([&] { return linked.broker->counters().refused == 1; }));
  linked.broker->want({"a", "b", "c"});
  EXPECT_TRUE(linked.turn_until([&] { return linked.broker->counters().refused == 2; }))
      << "one code of two was a refusal: " << linked.broker->counters().refused;
}

TEST(BrokerLink, BadUrlIsSaidAndDoesNotStopTheDaemon) {
  boost::asio::io_context loop;
  Linked linked(loop, to("http://127.0.0.1"));
  linked.start({"a"});
  ASSERT_TRUE(linked.turn_until([&] { return !linked.downs.empty(); }));
  EXPECT_NE(linked.downs[0].find("mqtt://host"), std::string::npos);
}

TEST(BrokerLink, ThrownAwayWhileConnectingLeavesNothingBehind) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  for (int i = 0; i < 20; ++i) {
    Linked linked(loop, to(mosquitto.url()));
    linked.start({"a"});
    loop.restart();
    loop.run_for(std::chrono::milliseconds(i));
  }
  loop.restart();
  loop.run_for(100ms);  // late answers find nobody
  Linked last(loop, to(mosquitto.url()));
  last.start({"a"});
  EXPECT_TRUE(last.heard(mosquitto, "a", "still works"));
}

// --- floods ---

constexpr int kBurst = 20000;

/// The payloads heard on "flood", in order.
std::vector<std::string> flood_of(const Linked& linked) {
  std::vector<std::string> payloads;
  for (const BrokerMessage& m : linked.messages) {
    if (m.topic == "flood") payloads.push_back(m.payload);
  }
  return payloads;
}

/// 20,000 numbered messages; ends when the broker has acknowledged them all.
std::unique_ptr<parts::Process> burst(const parts::Mosquitto& mosquitto) {
  return std::make_unique<parts::Process>(std::vector<std::string>{
      "sh", "-c",
      "seq " + std::to_string(kBurst) + " | mosquitto_pub -h 127.0.0.1 -p " +
          std::to_string(mosquitto.port()) + " -q 1 -l -t flood"});
}

/// Connected, subscribed, and nothing on its way any more.
void settle(Linked& linked, const parts::Mosquitto& mosquitto) {
  linked.start({"sign", "flood"});
  ASSERT_TRUE(linked.heard(mosquitto, "sign", "ready"));
  parts::publish(mosquitto, "sign", "settled");  // behind every earlier publication
  ASSERT_TRUE(linked.turn_until([&] { return linked.find("sign", "settled").has_value(); }));
  linked.messages.clear();
}

TEST(BrokerFlood, EveryMessageIsReceivedWhileTheLoopTurns) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  BrokerLink link = to(mosquitto.url());
  link.inbox_limit = 100000;
  Linked linked(loop, link);
  settle(linked, mosquitto);
  const auto before = linked.broker->counters().received;
  const auto sender = burst(mosquitto);
  ASSERT_TRUE(linked.turn_until([&] { return linked.messages.size() >= kBurst; }, 60s))
      << linked.messages.size();
  EXPECT_EQ(sender->wait(10s), 0);
  EXPECT_EQ(linked.broker->counters().received - before, static_cast<std::uint64_t>(kBurst));
  EXPECT_EQ(linked.broker->counters().dropped, 0u);
  for (int i = 0; i < kBurst; ++i) {
    ASSERT_EQ(linked.messages[static_cast<std::size_t>(i)].payload, std::to_string(i + 1));
  }
}

TEST(BrokerFlood, ALoopThatStandsStillDropsAndCounts) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  BrokerLink link = to(mosquitto.url());
  link.inbox_limit = 1000;
  Linked linked(loop, link);
  settle(linked, mosquitto);
  const BrokerCounters before = linked.broker->counters();
  const auto sender = burst(mosquitto);
  // The loop does not turn: only Paho's thread works.
  ASSERT_TRUE(parts::wait_until(
      [&] { return linked.broker->counters().received - before.received >= kBurst; }, 60s));
  EXPECT_EQ(sender->wait(10s), 0);
  ASSERT_TRUE(linked.turn_until([&] { return flood_of(linked).size() >= 1000; }));
  ASSERT_TRUE(linked.heard(mosquitto, "sign", "after"));  // there is room again
  const std::vector<std::string> heard = flood_of(linked);
  const std::uint64_t dropped = linked.broker->counters().dropped - before.dropped;
  EXPECT_EQ(heard.size() + dropped, static_cast<std::size_t>(kBurst));
  ASSERT_EQ(heard.size(), 1000u) << "up to the limit";
  EXPECT_EQ(heard.front(), "1") << "the oldest stay";
  EXPECT_EQ(heard.back(), "1000");
}

TEST(BrokerFlood, WhatWaitedAtAnOutageDoesNotComeAfterIt) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  BrokerLink link = to(mosquitto.url());
  link.inbox_limit = 100000;
  Linked linked(loop, link);
  settle(linked, mosquitto);
  const BrokerCounters before = linked.broker->counters();
  EXPECT_EQ(burst(mosquitto)->wait(60s), 0);
  ASSERT_TRUE(parts::wait_until(
      [&] { return linked.broker->counters().received - before.received >= kBurst; }, 60s));
  std::size_t after_down = 0;
  linked.on_message = [&](const BrokerMessage&) {
    if (linked.messages.size() == 1) mosquitto.kill();  // with nearly all of it still waiting
    after_down += linked.downs.empty() ? 0 : 1;
  };
  ASSERT_TRUE(linked.turn_until([&] { return !linked.downs.empty(); }));
  linked.turn_until([] { return false; }, 200ms);
  EXPECT_EQ(after_down, 0u);
  EXPECT_EQ(linked.messages.size() + (linked.broker->counters().dropped - before.dropped),
            static_cast<std::size_t>(kBurst));
}

TEST(BrokerFlood, PublicationsOfOneTurnAreSentOrCounted) {
  parts::Mosquitto mosquitto;
  boost::asio::io_context loop;
  Linked linked(loop, to(mosquitto.url()));
  linked.start({});
  ASSERT_TRUE(linked.turn_until([&] { return linked.broker->is_up(); }));
  parts::Listener listener(mosquitto.url(), {"out", "end"});
  constexpr std::size_t kMany = 5000;
  for (std::size_t i = 0; i < kMany; ++i) linked.broker->publish("out", std::to_string(i), false);
  const BrokerCounters after = linked.broker->counters();
  EXPECT_EQ(after.published + after.unsent, kMany);
  EXPECT_GE(after.published, 1000u) << "that many may wait for the socket";
  ASSERT_TRUE(linked.turn_until([&] { return listener.heard("out").size() == after.published; }))
      << listener.heard("out").size() << " of " << after.published;
}

}  // namespace
}  // namespace tubwarden
