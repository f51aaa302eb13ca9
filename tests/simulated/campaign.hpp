// The seeded campaign: many drawn worlds, one tub-day each, in which no invariant may break at any
// moment. Threading: run_campaign() starts its own threads; each world has one owner. Failure: what
// broke is told in sentences, with the one command that replays it.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/time.hpp"

namespace tubwarden::rehearsal {

/// Of one world, and of one campaign.
inline constexpr Duration kWorldLength = hours(24);

struct CampaignTally {
  std::uint64_t worlds = 0;
  std::uint64_t starts = 0, turns = 0, looks = 0, alerts = 0;
  std::uint64_t moved = 0;  ///< outputs that ran
  std::uint64_t faults = 0, hands = 0;
  std::vector<std::string> broken;  ///< a text a world, the first kBrokenMost of them
  std::uint64_t broken_total = 0;
  void add(const CampaignTally& other);
};
inline constexpr std::size_t kBrokenMost = 5;

/// One world, watched at every step; water, CO2 and heat must balance at its end.
CampaignTally run_world(std::uint64_t seed);

/// The worlds of seeds first .. first + count - 1.
CampaignTally run_campaign(std::uint64_t first, std::uint64_t count, unsigned threads);

}  // namespace tubwarden::rehearsal
