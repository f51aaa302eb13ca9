// Whether more of a heater's warmth did a bed any good. A bed of one store, values by hand.
#include "core/climate/heat_watch.hpp"

#include <gtest/gtest.h>

namespace tubwarden {
namespace {

/// A bed that loses 0.2 of its distance to the room an hour; a full mat gives 3 K an hour.
struct Bed {
  HeatWatch watch;
  Instant now{hours(5)};
  double bed = 22.0, room = 18.0;
  bool room_known = true;
  double works = 1.0;
  int told = 0;

  void pass(double hours_long, double share) {
    for (int minute = 0; minute < hours_long * 60; ++minute) {
      now += minutes(1);
      bed += (works * share * 3.0 - 0.2 * (bed - room)) / 60.0;
      watch.gave(share * 3.0 / 60.0);
      const auto known = room_known ? std::optional(room) : std::nullopt;
      if (watch.reading(bed, known, now)) ++told;
    }
  }
};

TEST(HeatWatch, TellsAMatThatHasGoneColdWithinFiveHours) {
  for (const bool known : {true, false}) {
    Bed bed;
    bed.room_known = known;
    bed.pass(8, 0.27);
    bed.works = 0.0;
    bed.pass(1, 0.5);
    EXPECT_EQ(bed.told, 0);
    bed.pass(4, 1.0);
    EXPECT_GT(bed.told, 0) << known;
  }
}

TEST(HeatWatch, BelievesAMatThatIsTooWeakForAColderRoom) {
  Bed bed;
  bed.pass(8, 0.27);
  bed.room = 6.0;
  bed.pass(12, 1.0);
  EXPECT_LT(bed.bed, 22.0);
  EXPECT_EQ(bed.told, 0) << "the room is another";
}

TEST(HeatWatch, BelievesAMatThatWorksWhateverItsShare) {
  Bed bed;
  for (int i = 0; i < 8; ++i) {
    bed.pass(4, 0.1);
    bed.pass(4, 0.6);
  }
  EXPECT_EQ(bed.told, 0);
}

TEST(HeatWatch, SaysNothingOfAMatThatRestsInACoolingBed) {
  Bed bed;
  bed.pass(8, 0.27);
  bed.works = 0.0;
  bed.pass(8, 0.0);
  EXPECT_EQ(bed.told, 0);
}

TEST(HeatWatch, BelievesAMatThatRunsOnAndOffByALateProbe) {
  for (const double lag_h : {0.3, 0.7, 1.0}) {
    Bed bed;
    double shown = bed.bed;
    bool on = false;
    for (int minute = 0; minute < 3 * 24 * 60; ++minute) {
      bed.now += minutes(1);
      bed.bed += ((on ? 1.8 : 0.0) - 0.2 * (bed.bed - bed.room)) / 60.0;
      shown += (bed.bed - shown) / (60.0 * lag_h);
      bed.watch.gave(on ? 3.0 / 60.0 : 0.0);
      if (shown < 21.0) on = true;
      if (shown > 23.0) on = false;
      if (bed.watch.reading(shown, bed.room, bed.now)) ++bed.told;
    }
    EXPECT_EQ(bed.told, 0) << lag_h;
  }
}

TEST(HeatWatch, WantsADayBeforeIt) {
  Bed bed;
  bed.works = 0.0;
  bed.pass(20, 1.0);
  EXPECT_EQ(bed.told, 0) << "it may always have been too weak";
}

TEST(HeatWatch, ForgetsWhatCameBeforeALongSilence) {
  Bed bed;
  bed.pass(8, 0.27);
  bed.works = 0.0;
  bed.now += hours(3);
  bed.pass(5, 1.0);
  EXPECT_EQ(bed.told, 0);
}

}  // namespace
}  // namespace tubwarden
