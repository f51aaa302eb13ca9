// Many drawn worlds, each with its plan, load and faults: no invariant may break, at no moment.
// A failing seed is printed; TUBWARDEN_SEED=N replays it alone.

#include <gtest/gtest.h>

#include <charconv>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <optional>

#include "draw.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr Duration kLength = hours(6);
constexpr std::uint64_t kSeeds = 60;

std::optional<std::uint64_t> number_in(const char* variable) {
  const char* text = std::getenv(variable);
  if (text == nullptr) return std::nullopt;
  std::uint64_t number = 0;
  const auto [end, error] = std::from_chars(text, text + std::strlen(text), number);
  if (error != std::errc() || *end != '\0') ADD_FAILURE() << variable << "='" << text << "'";
  return number;
}

struct Tally {
  std::uint64_t starts = 0, turns = 0, looks = 0, alerts = 0, moved = 0;
};

void expect_books_balanced(const Book& book, const char* what) {
  EXPECT_LE(std::fabs(book.inside_now - book.inside_then - book.net), 1e-6 * book.summed + 1e-9)
      << what;
}

void run_world(std::uint64_t seed, Tally& tally) {
  const WorldPlan plan = draw_world(seed, kLength);
  World world(plan);
  world.run(kLength);
  const Watch& watch = world.watch();
  if (watch.broken_total() > 0) {
    std::string sentences;
    for (const std::string& broken : watch.broken()) sentences += "  " + broken + "\n";
    ADD_FAILURE() << "seed " << seed << " breaks (replay: TUBWARDEN_SEED=" << seed << "):\n"
                  << sentences << told(plan);
    return;
  }
  const Books books = world.model().books();
  expect_books_balanced(books.water_g, "water");
  expect_books_balanced(books.co2_g, "CO2");
  expect_books_balanced(books.heat_j, "heat");
  for (const ActuatorWork& work : world.statistics().work) {
    tally.starts += static_cast<std::uint64_t>(work.starts);
    tally.moved += work.starts > 0 ? 1 : 0;
  }
  tally.turns += world.statistics().turns;
  tally.looks += watch.looks();
  tally.alerts += world.statistics().alerts_raised;
}

TEST(Campaign, NoDrawnWorldBreaksAnInvariant) {
  Tally tally;
  if (const auto seed = number_in("TUBWARDEN_SEED")) return run_world(*seed, tally);
  const std::uint64_t seeds = number_in("TUBWARDEN_SEEDS").value_or(kSeeds);
  for (std::uint64_t seed = 1; seed <= seeds && !HasFailure(); ++seed) run_world(seed, tally);
  if (HasFailure()) return;
  // What never moved was never tried.
  EXPECT_GT(tally.starts, 20 * seeds);
  EXPECT_GT(tally.moved, seeds);
  EXPECT_GT(tally.alerts, seeds);
  std::printf("%llu worlds of 6 h: %llu starts, %llu turns, %llu looks, %llu alerts\n",
              static_cast<unsigned long long>(seeds), static_cast<unsigned long long>(tally.starts),
              static_cast<unsigned long long>(tally.turns),
              static_cast<unsigned long long>(tally.looks),
              static_cast<unsigned long long>(tally.alerts));
}

TEST(Campaign, ASeedReplaysToTheLastDigit) {
  for (std::uint64_t seed : {3u, 17u}) {
    World first(draw_world(seed, kLength));
    World second(draw_world(seed, kLength));
    World by_minutes(draw_world(seed, kLength));
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
  World first(draw_world(1, kLength));
  World second(draw_world(2, kLength));
  first.run(minutes(10));
  second.run(minutes(10));
  EXPECT_NE(first.model().truth(Quantity::humidity), second.model().truth(Quantity::humidity));
}

}  // namespace
}  // namespace tubwarden::rehearsal
