// Many drawn worlds, each with its tubs, load, faults and hands: no invariant may break, at no
// moment. A failing seed is printed with the command that replays it.
//   TUBWARDEN_SEED=N       that world alone, with Campaign.Replays
//   TUBWARDEN_TUB_DAYS=N   so many tub-days in all

#include "simulated/campaign.hpp"

#include <gtest/gtest.h>

#include <charconv>
#include <cstdlib>
#include <cstring>
#include <optional>

#include "simulated/draw.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr std::uint64_t kShards = 8;  // so that ctest can use every core
// A tenth where a world takes ten times as long.
#if defined(__OPTIMIZE__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
constexpr std::uint64_t kTubDays = 2000;
#else
constexpr std::uint64_t kTubDays = 200;
#endif

std::optional<std::uint64_t> number_in(const char* variable) {
  const char* text = std::getenv(variable);
  if (text == nullptr) return std::nullopt;
  std::uint64_t number = 0;
  const auto [end, error] = std::from_chars(text, text + std::strlen(text), number);
  if (error != std::errc() || *end != '\0') ADD_FAILURE() << variable << "='" << text << "'";
  return number;
}

void expect_unbroken(const CampaignTally& tally) {
  for (const std::string& text : tally.broken) ADD_FAILURE() << text;
  EXPECT_EQ(tally.broken_total, 0u) << "of " << tally.worlds << " worlds";
}

class CampaignShard : public testing::TestWithParam<std::uint64_t> {};

TEST_P(CampaignShard, NoDrawnWorldBreaksAnInvariant) {
  const std::uint64_t count = number_in("TUBWARDEN_TUB_DAYS").value_or(kTubDays) / kShards;
  const CampaignTally tally = run_campaign(1 + GetParam() * count, count, 1);
  expect_unbroken(tally);
  // What never moved was never tried.
  EXPECT_GT(tally.starts, 20 * count);
  EXPECT_GT(tally.moved, count);
  EXPECT_GT(tally.alerts, count);
  EXPECT_GT(tally.faults, 3 * count);
  EXPECT_GT(tally.hands, count);
}

INSTANTIATE_TEST_SUITE_P(Of, CampaignShard, testing::Range(std::uint64_t{0}, kShards));

TEST(Campaign, Replays) { expect_unbroken(run_world(number_in("TUBWARDEN_SEED").value_or(1))); }

TEST(Campaign, ASeedReplaysToTheLastDigit) {
  for (std::uint64_t seed : {3u, 17u}) {
    const WorldPlan plan = draw_world(seed, kWorldLength);
    World first(plan);
    World second(plan);
    World by_minutes(plan);
    first.run(hours(2));
    second.run(hours(2));
    for (int i = 0; i < 120; ++i) by_minutes.run(minutes(1));
    for (Quantity q : kAllQuantities) {
      EXPECT_EQ(first.model().truth(q), second.model().truth(q));
      EXPECT_NEAR(first.model().truth(q), by_minutes.model().truth(q), 0.01) << "cut elsewhere";
    }
    EXPECT_EQ(first.statistics().turns, second.statistics().turns);
    EXPECT_EQ(first.statistics().readings, by_minutes.statistics().readings);
    EXPECT_EQ(first.alerts().size(), second.alerts().size());
  }
}

TEST(Campaign, AnotherSeedIsAnotherWorld) {
  World first(draw_world(1, kWorldLength));
  World second(draw_world(2, kWorldLength));
  first.run(minutes(10));
  second.run(minutes(10));
  EXPECT_NE(first.model().truth(Quantity::humidity), second.model().truth(Quantity::humidity));
}

TEST(Campaign, IsTheSameOnAnyNumberOfThreads) {
  const CampaignTally one = run_campaign(5, 4, 1);
  const CampaignTally two = run_campaign(5, 4, 2);
  EXPECT_EQ(one.turns, two.turns);
  EXPECT_EQ(one.starts, two.starts);
  EXPECT_EQ(one.alerts, two.alerts);
}

}  // namespace
}  // namespace tubwarden::rehearsal
