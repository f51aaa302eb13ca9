// Light hours where daylight saving begins and ends, with the real zone's rules.
#include <gtest/gtest.h>
#include <stdlib.h>
#include <time.h>

#include "base/text.hpp"
#include "fakes.hpp"

namespace {

using namespace fakes;

struct InBerlin : ::testing::Test {
  InBerlin() {
    ::setenv("TZ", "Europe/Berlin", 1);
    ::tzset();
  }
  ~InBerlin() override {
    ::unsetenv("TZ");
    ::tzset();
  }

  /// A lamp with these hours, from a moment on for a while: each change as "time level".
  static std::vector<std::string> changes(LightHours light, const char* from, Duration during) {
    Rig r;
    r.clock.zoned = true;
    r.clock.wall_at = parse_rfc3339(from).value();
    Loaded l = Rig::loaded("fruiting");
    auto profile = std::make_shared<Profile>(*l.grow.tubs[0].profile);
    for (PhasePlan& phase : profile->phases) phase.light = light;
    l.grow.tubs[0].profile = profile;
    ActuatorPlan lamp;
    lamp.id = "lamp";
    lamp.effect = Effect::light;
    lamp.output.id = {"tub-1", "lamp"};
    l.grow.chambers[0].actuators = {lamp};
    r.adopt(l);
    r.warden.broker_up();
    r.warden.output_report({{"tub-1", "lamp"}, OutputHealth::ready, {}, ""});
    r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
    std::vector<std::string> seen;
    std::size_t told = r.drivers.said.size();
    const Instant end = r.clock.at + during;
    while (r.clock.at < end) {
      r.clock.pass(std::min(end, std::max(r.wake, r.clock.at + milliseconds(1))) - r.clock.at);
      r.warden.tick();
      for (; told < r.drivers.said.size(); ++told) {
        seen.push_back(rfc3339(r.clock.wall_at).substr(0, 19) +
                       (r.drivers.said[told].level == kRun ? " run" : " rest"));
      }
    }
    return seen;
  }
};

// Berlin's clocks go from 02:00 to 03:00 at 2026-03-29 01:00 UTC, and from 03:00 to 02:00 at
// 2026-10-25 01:00 UTC (directive 2000/84/EC). The turns before are at half past, so that one an
// hour would come half an hour late.
using Seen = std::vector<std::string>;

TEST_F(InBerlin, ALampStartsOnTimeRightAfterTheClockWentForward) {
  EXPECT_EQ(changes({3 * 60 + 15, 12 * 60}, "2026-03-28T22:30:00Z", hours(36)),
            (Seen{"2026-03-29T01:15:00 run", "2026-03-29T10:00:00 rest", "2026-03-30T01:15:00 run",
                  "2026-03-30T10:00:00 rest"}));
}

TEST_F(InBerlin, ALampWhoseHourIsLeftOutStartsWithTheChange) {
  EXPECT_EQ(changes({2 * 60 + 30, 12 * 60}, "2026-03-28T22:30:00Z", hours(12)),
            (Seen{"2026-03-29T01:00:00 run", "2026-03-29T10:00:00 rest"}));
}

TEST_F(InBerlin, ALampRestsOnTimeRightAfterTheClockWentBack) {
  EXPECT_EQ(changes({20 * 60, 3 * 60 + 10}, "2026-10-24T16:30:00Z", hours(36)),
            (Seen{"2026-10-24T18:00:00 run", "2026-10-25T02:10:00 rest", "2026-10-25T19:00:00 run",
                  "2026-10-26T02:10:00 rest"}));
}

TEST_F(InBerlin, AnHourThatTheClockShowsTwiceCountsTwice) {
  EXPECT_EQ(changes({20 * 60, 2 * 60 + 10}, "2026-10-24T16:30:00Z", hours(12)),
            (Seen{"2026-10-24T18:00:00 run", "2026-10-25T00:10:00 rest", "2026-10-25T01:00:00 run",
                  "2026-10-25T01:10:00 rest"}));
}

}  // namespace
