// A blind mister after a restart: it repeats what the record's runs say of the last day.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fakes.hpp"

namespace {

using namespace fakes;
using testing::HasSubstr;

Loaded with(BlindRule rule) {
  Loaded l = Rig::loaded("fruiting");
  l.grow.chambers[0].actuators[0].blind = rule;
  return l;
}

void ran(Rig& r, Duration ago, Duration lasted, Level level = kRun) {
  const WallTime began = r.clock.wall_at - duration_cast<milliseconds>(ago);
  r.record.kept["tub-1"].runs.push_back(
      {"tub-1", "mister", level, {began, true, "boot-a", Instant{}}, lasted});
}

std::string why_of(Rig& r) {
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.up();
  r.pass(minutes(10));
  return r.status().dump();
}

TEST(BlindDay, IsReadBackFromTheRecord) {
  Rig r;
  ran(r, hours(20), minutes(24));
  ran(r, hours(3), minutes(48));
  r.adopt(with(BlindRule::duty));
  ASSERT_EQ(r.record.asked.size(), 1U);
  EXPECT_THAT(why_of(r), HasSubstr("it runs for 2.5 % of the time, of the 5 % of its last day"));
}

TEST(BlindDay, CountsTheLastDayOnlyAndLevelsByTheirShare) {
  Rig r;
  ran(r, hours(40), hours(5));
  ran(r, hours(25), hours(2));  // of which one hour is in the last day
  ran(r, hours(6), minutes(24), 500);
  r.adopt(with(BlindRule::duty));
  EXPECT_THAT(why_of(r), HasSubstr("of the 5 % of its last day"));
}

TEST(BlindDay, IsNotAskedForWhereNothingRepeatsIt) {
  Rig r;
  ran(r, hours(3), hours(1));
  r.adopt(with(BlindRule::safe));
  EXPECT_TRUE(r.record.asked.empty());
  EXPECT_THAT(why_of(r), HasSubstr("safe until a live humidity reading comes"));
}

TEST(BlindDay, OfAnEmptyRecordIsNone) {
  Rig r;
  r.adopt(with(BlindRule::duty));
  EXPECT_THAT(why_of(r), HasSubstr("in the last day it ran too little to repeat"));
}

}  // namespace
