// Phase truth is the record: every verdict over a file, and the time a phase has lasted.
#include <gtest/gtest.h>

#include "core/grow/phase_truth.hpp"

namespace tubwarden {
namespace {

using V = PhaseVerdict;

struct Case {
  const char* what;
  std::optional<PhaseKnown> known;
  FileSays file;
  V verdict;
};

PhaseKnown known(std::string phase, std::optional<std::string> seen, std::string previous = "",
                 Duration since = hours(1)) {
  return {"B-07", std::move(phase), std::move(seen), std::move(previous), since};
}

TEST(PhaseTruth, EveryVerdict) {
  const Case cases[] = {
      {"no record at all", std::nullopt, {"B-07", "casing"}, V::unconfirmed},
      {"no record, and the file says empty", std::nullopt, {"B-07", "empty"}, V::unconfirmed},
      {"another batch", known("casing", "casing"), {"B-08", "casing"}, V::batch_changed},
      {"another batch in an edited phase",
       known("casing", "casing"),
       {"B-08", "grain"},
       V::batch_changed},
      {"another batch, never seen",
       known("casing", std::nullopt),
       {"B-08", "casing"},
       V::batch_changed},
      {"as it was", known("casing", "casing"), {"B-07", "casing"}, V::nothing},
      {"the record went on by command, the file did not change",
       known("pinning", "casing"),
       {"B-07", "casing"},
       V::nothing},
      {"... not even within two minutes of the command",
       known("pinning", "casing", "casing", seconds(10)),
       {"B-07", "casing"},
       V::nothing},
      {"the file catches up with the command",
       known("pinning", "casing"),
       {"B-07", "pinning"},
       V::seen},
      {"first seen, and it agrees", known("casing", std::nullopt), {"B-07", "casing"}, V::seen},
      {"first seen, and it disagrees", known("casing", std::nullopt), {"B-07", "fruiting"}, V::ask},
      {"first seen, even when it would take the last change back",
       known("casing", std::nullopt, "colonization", seconds(10)),
       {"B-07", "colonization"},
       V::ask},
      {"edited", known("casing", "casing"), {"B-07", "pinning"}, V::change},
      {"edited after a command had gone elsewhere",
       known("fruiting", "casing"),
       {"B-07", "pinning"},
       V::change},
      {"edited after it was asked", known("casing", "fruiting"), {"B-07", "pinning"}, V::change},
      {"reversed at once",
       known("pinning", "pinning", "casing", Duration{0}),
       {"B-07", "casing"},
       V::correction},
      {"reversed at two minutes",
       known("pinning", "pinning", "casing", minutes(2)),
       {"B-07", "casing"},
       V::correction},
      {"reversed later",
       known("pinning", "pinning", "casing", minutes(2) + Duration{1}),
       {"B-07", "casing"},
       V::change},
      {"edited on within two minutes",
       known("pinning", "pinning", "casing", seconds(10)),
       {"B-07", "fruiting"},
       V::change},
      {"a first phase has nothing to go back to",
       known("casing", "casing", "", seconds(10)),
       {"B-07", ""},
       V::change},
      {"a command is taken back by an edit",
       known("pinning", "pinning", "casing", seconds(30)),
       {"B-07", "casing"},
       V::correction},
  };
  for (const Case& c : cases) EXPECT_EQ(judge_file(c.known, c.file), c.verdict) << c.what;
}

TEST(PhaseTruth, TakesBack) {
  EXPECT_TRUE(takes_back(known("pinning", {}, "casing", seconds(1)), "casing"));
  EXPECT_FALSE(takes_back(known("pinning", {}, "casing", seconds(1)), "fruiting"));
  EXPECT_FALSE(takes_back(known("pinning", {}, "casing", minutes(3)), "casing"));
  EXPECT_FALSE(takes_back(known("pinning", {}, "", seconds(1)), ""));
  EXPECT_FALSE(takes_back(known("pinning", {}, "", seconds(1)), "casing"));
}

// --- the time a phase has lasted ----------------------------------------------------------------

Stamp stamp(const char* boot, Duration since_boot, std::optional<Duration> wall) {
  Stamp s;
  s.boot_id = boot;
  s.boot = Instant(since_boot);
  s.wall_set = wall.has_value();
  // A clock that is not set stands near 1970.
  s.wall = WallTime(duration_cast<milliseconds>(wall ? hours(24 * 365 * 56) + *wall : since_boot));
  return s;
}

TEST(Elapsed, OverClocksAndBoots) {
  struct Sample {
    const char* what;
    Stamp mark, now;
    Duration lasted;  // beyond the hour at the mark
  };
  const Sample samples[] = {
      {"the same boot, by the boot clock", stamp("a", hours(1), hours(1)),
       stamp("a", hours(4), hours(4)), hours(3)},
      {"... whatever the wall clock did", stamp("a", hours(1), hours(1)),
       stamp("a", hours(4), hours(400)), hours(3)},
      {"... or though it ran backwards", stamp("a", hours(1), hours(100)),
       stamp("a", hours(4), hours(1)), hours(3)},
      {"... or is not set", stamp("a", hours(1), std::nullopt), stamp("a", hours(4), std::nullopt),
       hours(3)},
      {"... or was set in between", stamp("a", hours(1), std::nullopt),
       stamp("a", hours(4), hours(9)), hours(3)},
      {"another boot, time powered off joins", stamp("a", hours(90), hours(0)),
       stamp("b", minutes(5), hours(10)), hours(10)},
      {"another boot, not yet set: this boot is known to have passed",
       stamp("a", hours(90), hours(0)), stamp("b", minutes(5), std::nullopt), minutes(5)},
      {"another boot, the mark was not set", stamp("a", hours(90), std::nullopt),
       stamp("b", minutes(5), hours(10)), minutes(5)},
      {"another boot, set, but backwards", stamp("a", hours(90), hours(10)),
       stamp("b", minutes(5), hours(9)), minutes(5)},
      {"another boot, set to hardly later: at least this boot has passed",
       stamp("a", hours(90), hours(10)), stamp("b", minutes(30), hours(10) + minutes(1)),
       minutes(30)},
      {"nothing has passed", stamp("a", hours(1), hours(1)), stamp("a", hours(1), hours(1)),
       Duration{0}},
  };
  for (const Sample& s : samples) {
    EXPECT_EQ(elapsed_at(s.mark, hours(1), s.now), hours(1) + s.lasted) << s.what;
  }
}

TEST(Elapsed, NeverShrinksOverALifeOfBootsAndClocks) {
  // Marked again and again, as a checkpoint does: unset at first, then set; a power cut; set again.
  const Stamp life[] = {
      stamp("a", minutes(1), std::nullopt), stamp("a", minutes(9), hours(0)),
      stamp("a", hours(5), hours(5)),       stamp("b", minutes(1), std::nullopt),
      stamp("b", minutes(2), hours(6)),     stamp("c", seconds(30), hours(2)),
      stamp("c", minutes(3), hours(7)),
  };
  Duration elapsed{0};
  Stamp mark = life[0];
  for (const Stamp& now : life) {
    const Duration next = elapsed_at(mark, elapsed, now);
    EXPECT_GE(next, elapsed);
    elapsed = next;
    mark = now;
  }
  // 8 min + 4 h 51 min on boot a; 1 min of b known, 1 more; 30 s of c, 2 min 30 s more.
  EXPECT_EQ(elapsed, minutes(8) + hours(4) + minutes(51) + minutes(2) + minutes(3));
}

}  // namespace
}  // namespace tubwarden
