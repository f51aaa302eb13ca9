#include "simulated/campaign.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>
#include <thread>

#include "simulated/draw.hpp"

namespace tubwarden::rehearsal {
namespace {

bool balanced(const Book& book) {
  return std::fabs(book.inside_now - book.inside_then - book.net) <= 1e-6 * book.summed + 1e-9;
}

std::vector<std::string> broken_in(const World& world) {
  std::vector<std::string> sentences = world.watch().broken();
  const Books books = world.model().books();
  if (!balanced(books.water_g)) sentences.push_back("water does not balance");
  if (!balanced(books.co2_g)) sentences.push_back("CO2 does not balance");
  if (!balanced(books.heat_j)) sentences.push_back("heat does not balance");
  return sentences;
}

}  // namespace

void CampaignTally::add(const CampaignTally& other) {
  worlds += other.worlds;
  starts += other.starts;
  turns += other.turns;
  looks += other.looks;
  alerts += other.alerts;
  moved += other.moved;
  faults += other.faults;
  hands += other.hands;
  broken_total += other.broken_total;
  for (const std::string& text : other.broken) {
    if (broken.size() < kBrokenMost) broken.push_back(text);
  }
}

CampaignTally run_world(std::uint64_t seed) {
  const WorldPlan plan = draw_world(seed, kWorldLength);
  World world(plan);
  world.run(kWorldLength);
  CampaignTally tally;
  tally.worlds = 1;
  for (const ActuatorWork& work : world.statistics().work) {
    tally.starts += static_cast<std::uint64_t>(work.starts);
    tally.moved += work.starts > 0 ? 1 : 0;
  }
  tally.turns = world.statistics().turns;
  tally.looks = world.watch().looks();
  tally.alerts = world.statistics().alerts_raised;
  tally.faults = plan.faults.size();
  tally.hands = plan.hands.size();
  const auto sentences = broken_in(world);
  if (sentences.empty()) return tally;
  tally.broken_total = 1;
  tally.broken.push_back(
      fmt::format("seed {} breaks; replay: TUBWARDEN_SEED={} simulated_worlds "
                  "--gtest_filter=Campaign.Replays\n  {}\n{}",
                  seed, seed, fmt::join(sentences, "\n  "), told(plan)));
  return tally;
}

CampaignTally run_campaign(std::uint64_t first, std::uint64_t count, unsigned threads) {
  std::atomic<std::uint64_t> next{0};
  CampaignTally all;
  std::mutex adding;
  const auto work = [&] {
    for (std::uint64_t i = next++; i < count; i = next++) {
      const CampaignTally one = run_world(first + i);
      const std::lock_guard lock(adding);
      all.add(one);
    }
  };
  std::vector<std::thread> pool;
  for (unsigned t = 1; t < threads; ++t) pool.emplace_back(work);
  work();
  for (std::thread& t : pool) t.join();
  return all;
}

}  // namespace tubwarden::rehearsal
