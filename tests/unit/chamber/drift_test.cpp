// Time to leaving the band: told where what is called does not turn it, and nowhere else.
#include "unit/chamber/rig.hpp"

namespace tubwarden {
namespace {

constexpr Quantity kBed = Quantity::substrate_temperature;

void warm(Plans& s) {
  s.keep("fruiting", kBed, 20, 24);
  s.never_stale();
}

/// A bed that falls by 0.9 K an hour from `from`, read each minute.
void falls(Rig& rig, double from, int minutes_long) {
  for (int m = 0; m < minutes_long; ++m) {
    rig.substrate(from - 0.015 * m);
    rig.wait(minutes(1));
  }
}

std::optional<Duration> leaves(Rig& rig) {
  return rig.chamber().air(rig.now)[index_of(kBed)].leaves_in;
}

TEST(ChamberDrift, IsQuietWhileTheHeaterHasNotBeenCalled) {
  Rig rig(warm);
  rig.start("fruiting");
  falls(rig, 23.0, 90);  // to 21.65; it may still be held
  EXPECT_FALSE(leaves(rig));
}

TEST(ChamberDrift, IsToldOnceTheHeaterHasHadItsTime) {
  Rig rig(warm);
  rig.start("fruiting");
  falls(rig, 21.2, 40);
  EXPECT_FALSE(leaves(rig)) << "called below 21, but not for long";
  falls(rig, 20.6, 28);
  ASSERT_TRUE(leaves(rig));
  EXPECT_NEAR(seconds_of(*leaves(rig)), 12 * 60, 180) << "from 20.18 at 0.9 K an hour";
  EXPECT_FALSE(rig.chamber().air(rig.now)[index_of(kBed)].leaves_up);
}

TEST(ChamberDrift, IsToldAtOnceWhereNothingCanTurnIt) {
  Rig rig(warm);
  rig.start("fruiting");
  rig.step(event::OutputUsable{mat, false, "its relay is gone"});
  falls(rig, 22.0, 60);
  EXPECT_TRUE(leaves(rig));
}

TEST(ChamberDrift, EndsWithHandsInTheTubAndWithTheReading) {
  Rig rig(warm);
  rig.start("fruiting");
  rig.step(event::OutputUsable{mat, false, "its relay is gone"});
  falls(rig, 22.0, 60);
  ASSERT_TRUE(leaves(rig));
  rig.step(event::HandOn{{HandKind::attend, "", kRest, rig.now + minutes(20), "tub-1"}});
  rig.substrate(21.4);
  EXPECT_FALSE(leaves(rig));
}

TEST(ChamberDrift, OfNoBandIsNone) {
  Rig rig([](Plans& s) { s.never_stale(); });
  rig.start("fruiting");
  falls(rig, 22.0, 90);
  EXPECT_FALSE(leaves(rig));
}

}  // namespace
}  // namespace tubwarden
