// Who stands in an air: nobody, several without a leader, one that comes or goes.
#include <gmock/gmock.h>

#include "rig.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr auto kHumidity = Quantity::humidity;

Rig fruiting_tub() {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.warn("fruiting", kHumidity, {78.0, 95.0, minutes(10)});
    s.part(mister).output.safe = kRest;
  });
  rig.start("fruiting", hours(24)).humidity(60);
  return rig;
}

TEST(Standing, AnAirThatIsLeftIsSafeAndSaysSo) {
  Rig rig = fruiting_tub();
  ASSERT_TRUE(rig.runs(mister));
  rig.adopt([](Plans& s) { s.tubs.clear(); });
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_TRUE(rig.last_command(mister).safe);
  EXPECT_THAT(rig.why(mister), HasSubstr("nobody stands in this air"));
  EXPECT_THAT(rig.why(mister), HasSubstr("tubwarden move TUB tub-1"));
  EXPECT_FALSE(rig.view(kHumidity).keep);
}

/// Lets the air's sensor speak each minute; the bed's too, if it is let.
void speaks(Rig& rig, int times, bool bed) {
  for (int i = 0; i < times; ++i) {
    rig.wait(minutes(1));
    rig.humidity(60);
    rig.air(17);
    rig.co2(800);
    if (bed) rig.substrate(17);
  }
}

TEST(Standing, AnAirThatIsLeftMissesNothing) {
  Rig rig = fruiting_tub();
  speaks(rig, 7, false);
  ASSERT_THAT(rig.alerts(), ElementsAre("raised tub-1.sensor_bed_stale"));
  rig.adopt([](Plans& s) { s.tubs.clear(); });
  EXPECT_THAT(rig.alerts(), ElementsAre("returned tub-1.sensor_bed_stale"));
  rig.wait(hours(2));
  EXPECT_THAT(rig.alerts(), IsEmpty()) << "neither the air nor a silent sensor";
}

TEST(Standing, WarningsReturnWhenTheTubLeaves) {
  Rig rig = fruiting_tub();
  speaks(rig, 11, true);
  ASSERT_THAT(rig.alerts(), ElementsAre("raised tub-1.humidity_low"));
  rig.adopt([](Plans& s) { s.tubs.clear(); });
  EXPECT_THAT(rig.alerts(), ElementsAre("returned tub-1.humidity_low"));
}

TEST(Standing, ACeilingGoesWithItsTub) {
  Rig rig([](Plans& s) {
    s.tubs[0].substrate_ceiling_c = 26.5;
    s.tubs.push_back(s.tubs[0]);
    s.tubs[1].id = "tub-2";
    s.tubs[1].substrate_ceiling_c = 22.0;
  });
  rig.start("fruiting").substrate(24);
  ASSERT_THAT(rig.alerts(), ElementsAre("raised tub-2.substrate_ceiling"));
  EXPECT_THAT(rig.why(mat), HasSubstr("ceiling of 22 C"));
  rig.adopt([](Plans& s) { s.tubs.pop_back(); });
  EXPECT_THAT(rig.alerts(), ElementsAre("returned tub-2.substrate_ceiling"));
  EXPECT_THAT(rig.why(mat), testing::Not(HasSubstr("ceiling")));
}

TEST(Standing, SeveralWithoutALeaderAreSafeUntilOneIsNamed) {
  Rig rig = fruiting_tub();
  ASSERT_TRUE(rig.runs(mister));
  rig.adopt([](Plans& s) {
    s.tubs.push_back(s.tubs[0]);
    s.tubs[1].id = "tub-2";
    s.chamber.leader.clear();
  });
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_TRUE(rig.last_command(mister).safe);
  EXPECT_THAT(rig.why(mister), HasSubstr("name the leader in chambers/tub-1.yaml"));
  rig.adopt([](Plans& s) { s.chamber.leader = "tub-1"; });
  EXPECT_THAT(rig.why(mister), HasSubstr("humidity is 60 %"));
}

}  // namespace
}  // namespace tubwarden
