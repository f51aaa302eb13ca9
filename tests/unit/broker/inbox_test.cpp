#include "shell/broker/inbox.hpp"

#include <gtest/gtest.h>

#include <string>
#include <thread>
#include <vector>

namespace tubwarden {
namespace {

std::vector<std::string> drain(Inbox& inbox) {
  std::vector<std::string> seen;
  while (inbox.take([&](const BrokerMessage& m) { seen.push_back(m.topic + "=" + m.payload); })) {
  }
  return seen;
}

TEST(Inbox, KeepsOrderAndAllMembers) {
  Inbox inbox(10);
  const Instant at{seconds(7)};
  EXPECT_TRUE(inbox.put("a", "1", true, at));
  EXPECT_FALSE(inbox.put("b", "2", false, at)) << "one waking for many";
  std::vector<BrokerMessage> seen;
  EXPECT_FALSE(inbox.take([&](const BrokerMessage& m) { seen.push_back(m); }));
  ASSERT_EQ(seen.size(), 2u);
  EXPECT_EQ(seen[0].topic, "a");
  EXPECT_EQ(seen[0].payload, "1");
  EXPECT_TRUE(seen[0].retained);
  EXPECT_EQ(seen[0].arrived, at);
  EXPECT_EQ(seen[1].topic, "b");
  EXPECT_FALSE(seen[1].retained);
  EXPECT_TRUE(inbox.put("c", "3", false, at)) << "asleep again, so wake";
}

TEST(Inbox, SlotsAreWrittenOverWhole) {
  Inbox inbox(10);
  inbox.put("a/long/topic", "a long payload", true, Instant{});
  EXPECT_EQ(drain(inbox).size(), 1u);
  inbox.put("b", "", false, Instant{});
  inbox.put("c", "x", false, Instant{});
  EXPECT_EQ(drain(inbox), (std::vector<std::string>{"b=", "c=x"}));
}

TEST(Inbox, OverTheLimitIsDroppedAndCountedTheOldestStay) {
  Inbox inbox(3);
  for (int i = 0; i < 5; ++i) inbox.put("t", std::to_string(i), false, Instant{});
  EXPECT_EQ(inbox.counts().received, 5u);
  EXPECT_EQ(inbox.counts().dropped, 2u);
  EXPECT_EQ(drain(inbox), (std::vector<std::string>{"t=0", "t=1", "t=2"}));
  inbox.put("t", "5", false, Instant{});
  EXPECT_EQ(drain(inbox), (std::vector<std::string>{"t=5"})) << "there is room again";
}

TEST(Inbox, OversizedIsDropped) {
  Inbox inbox(3);
  inbox.put("t", std::string(Inbox::kPayloadBytesMax + 1, 'x'), false, Instant{});
  inbox.put("t", std::string(Inbox::kPayloadBytesMax, 'x'), false, Instant{});
  EXPECT_EQ(inbox.counts().dropped, 1u);
  EXPECT_EQ(drain(inbox).size(), 1u);
}

TEST(Inbox, AFloodComesInBatches) {
  Inbox inbox(10 * Inbox::kBatch);
  for (std::size_t i = 0; i < 2 * Inbox::kBatch + 5; ++i) inbox.put("t", "x", false, Instant{});
  std::vector<std::size_t> batches;
  bool more = true;
  while (more) {
    std::size_t size = 0;
    more = inbox.take([&](const BrokerMessage&) { ++size; });
    batches.push_back(size);
  }
  EXPECT_EQ(batches, (std::vector<std::size_t>{Inbox::kBatch, Inbox::kBatch, 5}));
}

TEST(Inbox, AWakingThatFailedIsTriedAgain) {
  Inbox inbox(10);
  EXPECT_TRUE(inbox.put("a", "1", false, Instant{}));
  inbox.not_woken();
  EXPECT_TRUE(inbox.put("b", "2", false, Instant{}));
  EXPECT_EQ(drain(inbox), (std::vector<std::string>{"a=1", "b=2"}));
}

TEST(Inbox, DiscardLeavesNothingAndCountsIt) {
  Inbox inbox(10 * Inbox::kBatch);
  for (std::size_t i = 0; i < Inbox::kBatch + 10; ++i) inbox.put("t", "old", false, Instant{});
  std::size_t taken = 0;
  EXPECT_TRUE(inbox.take([&](const BrokerMessage&) { ++taken; }));
  inbox.put("t", "old too", false, Instant{});
  inbox.discard();
  EXPECT_EQ(inbox.counts().received, taken + inbox.counts().dropped);
  EXPECT_EQ(inbox.counts().dropped, 11u);
  EXPECT_TRUE(drain(inbox).empty());
  EXPECT_TRUE(inbox.put("t", "new", false, Instant{}));
  EXPECT_EQ(drain(inbox), (std::vector<std::string>{"t=new"}));
}

TEST(Inbox, NothingIsLostBetweenThreads) {
  Inbox inbox(500);
  constexpr int kEach = 20000;
  std::vector<std::jthread> writers;
  for (int w = 0; w < 2; ++w) {
    writers.emplace_back([&] {
      for (int i = 0; i < kEach; ++i) inbox.put("t", std::to_string(i), false, Instant{});
    });
  }
  std::uint64_t taken = 0;
  const auto all = [&] { return inbox.counts().received == 2 * kEach; };
  while (!all()) inbox.take([&](const BrokerMessage&) { ++taken; });
  writers.clear();
  taken += drain(inbox).size();
  EXPECT_EQ(taken + inbox.counts().dropped, 2u * kEach);
  EXPECT_GT(taken, 0u);
}

}  // namespace
}  // namespace tubwarden
