// A grower who edits, commands, thinks better of it and restarts the daemon, drawn: what the record
// holds afterwards are his wishes, each once. The record here is a list; judge_file() is the
// core's.

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "core/grow/phase_truth.hpp"
#include "rehearsal/dice.hpp"

namespace tubwarden {
namespace {

using rehearsal::Dice;

constexpr int kSeeds = 2000;
constexpr int kActs = 60;
const char* const kPhases[] = {"colonization", "casing", "pinning", "fruiting"};

/// A tub with its record and its file.
struct Tub {
  PhaseKnown known{"B-01", "colonization", "colonization", "", hours(1)};
  FileSays file{"B-01", "colonization"};
  std::vector<std::string> recorded;  ///< changes and corrections, in order
  std::vector<std::string> wished;

  void change_to(const std::string& phase) {
    if (takes_back(known, phase)) {
      recorded.push_back("not " + known.phase);
      known.phase = phase;
      known.previous_phase.clear();
    } else {
      recorded.push_back(phase);
      known.previous_phase = known.phase;
      known.phase = phase;
    }
    known.since_change = Duration{0};
  }

  /// The daemon reads the file: at a save, and at each of its starts.
  void read_file() {
    const PhaseVerdict verdict = judge_file(known, file);
    switch (verdict) {
      case PhaseVerdict::change:
      case PhaseVerdict::correction:
        EXPECT_EQ(verdict == PhaseVerdict::correction, takes_back(known, file.phase));
        change_to(file.phase);
        known.file_seen = file.phase;
        return;
      case PhaseVerdict::seen:
        known.file_seen = file.phase;
        return;
      case PhaseVerdict::nothing:
        return;
      case PhaseVerdict::unconfirmed:
      case PhaseVerdict::batch_changed:
      case PhaseVerdict::ask:
        FAIL() << "nobody changed the batch";
    }
  }
};

void wish(Tub& tub, const std::string& phase) {
  if (phase == tub.known.phase) return;
  tub.wished.push_back(takes_back(tub.known, phase) ? "not " + tub.known.phase : phase);
}

void act(Tub& tub, Dice& dice) {
  tub.known.since_change +=
      from_seconds(dice.chance(0.5) ? dice.between(1.0, 100.0) : dice.between(100.0, 1e6));
  const std::string phase = kPhases[dice.whole(0, 3)];
  switch (dice.whole(0, 2)) {
    case 0:  // edits and saves, perhaps several times the same
      if (phase != tub.file.phase) wish(tub, phase);
      tub.file.phase = phase;
      for (int i = dice.whole(1, 3); i > 0; --i) tub.read_file();
      return;
    case 1:  // commands; the file says what it said
      if (phase == tub.known.phase) return;
      wish(tub, phase);
      tub.change_to(phase);
      return;
    case 2:  // the daemon starts anew, and reads the file once more
      for (int i = dice.whole(1, 3); i > 0; --i) tub.read_file();
      return;
  }
}

TEST(PhaseTruthCampaign, EveryWishIsRecordedOnceAndNothingElse) {
  std::size_t changes = 0, corrections = 0;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    Dice dice(seed);
    Tub tub;
    for (int i = 0; i < kActs; ++i) act(tub, dice);
    ASSERT_EQ(tub.recorded, tub.wished) << "seed " << seed;
    for (const std::string& entry : tub.recorded) {
      ++(entry.starts_with("not ") ? corrections : changes);
    }
  }
  EXPECT_GT(changes, 10u * kSeeds);
  EXPECT_GT(corrections, 1u * kSeeds);
}

}  // namespace
}  // namespace tubwarden
