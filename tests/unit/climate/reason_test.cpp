// Every reason as the grower reads it.
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "core/climate/reason.hpp"

namespace tubwarden {
namespace {

constexpr Instant kNow{hours(100)};

struct Case {
  const char* name;
  Effect effect;
  Level level;
  Reason reason;
  const char* sentence;
};

Reason reason_of(Why why, std::optional<Quantity> q = {}, double value = 0, double start = 0,
                 double stop = 0) {
  Reason r;
  r.why = why;
  r.quantity = q;
  r.value = value;
  r.start = start;
  r.stop = stop;
  return r;
}
Reason locked(Reason r, Lock lock, Duration more) {
  r.lock = lock;
  r.locked_until = kNow + more;
  return r;
}
Reason until(Reason r, Duration more) {
  r.until = kNow + more;
  return r;
}
Reason master(Reason r, FanMaster m, Duration owed = Duration{0}) {
  r.master = m;
  r.owed = owed;
  return r;
}
Reason by_air(Reason r) {
  r.by_air = true;
  return r;
}

constexpr auto rh = Quantity::humidity;
constexpr auto t = Quantity::air_temperature;
constexpr auto bed = Quantity::substrate_temperature;
constexpr auto co2 = Quantity::co2;

std::vector<Case> band_cases() {
  const Reason mist = reason_of(Why::called, rh, 83.1, 86.25, 87.5);
  const Reason idle = reason_of(Why::between_starts, rh, 88, 86.25, 87.5);
  Reason dry = mist;
  dry.no_effect = true;
  return {
      {"no_effect", Effect::humidify, kRun, dry,
       "running for 12s: humidity is 83.1 %; it starts below 86.25 % and stops at 87.5 %; its runs "
       "of late seem to move nothing."},
      {"called", Effect::humidify, kRun, mist,
       "running for 12s: humidity is 83.1 %; it starts below 86.25 % and stops at 87.5 %."},
      {"cool", Effect::cool, kRun, reason_of(Why::called, t, 18.2, 18, 17),
       "running for 12s: air temperature is 18.2 C; it starts above 18 C and stops at 17 C."},
      {"between", Effect::humidify, kRest, idle,
       "resting for 12s: humidity is 88 %; it starts below 86.25 % and stops at 87.5 %."},
      {"shortest_run", Effect::humidify, kRun, locked(idle, Lock::shortest_run, seconds(3)),
       "running for 12s: humidity is 88 %; it starts below 86.25 % and stops at 87.5 %; its "
       "shortest run holds it for another 3s."},
      {"shortest_rest", Effect::humidify, kRest, locked(mist, Lock::shortest_rest, seconds(8)),
       "resting for 12s: humidity is 83.1 %; it starts below 86.25 % and stops at 87.5 %; its "
       "shortest rest holds it for another 8s."},
      {"longest_run", Effect::humidify, kRest, locked(mist, Lock::longest_run, seconds(8)),
       "resting for 12s: humidity is 83.1 %; it starts below 86.25 % and stops at 87.5 %; it has "
       "run its longest and rests for another 8s."},
      {"starts", Effect::humidify, kRest, locked(mist, Lock::starts_per_hour, minutes(8)),
       "resting for 12s: humidity is 83.1 %; it starts below 86.25 % and stops at 87.5 %; its "
       "starts of this hour are used up for another 8m."},
  };
}

std::vector<Case> ceiling_cases() {
  const Reason hot = reason_of(Why::ceiling_locked, bed, 26.8, 26.5, 25.5);
  return {
      {"ceiling_locked", Effect::heat, kRest, hot,
       "resting for 12s: the substrate ceiling of 26.5 C locks it off; substrate temperature is "
       "26.8 C, and it lets go at 25.5 C."},
      {"ceiling_by_air", Effect::light, kRest, by_air(hot),
       "resting for 12s: the substrate ceiling of 26.5 C locks it off; the substrate may be at "
       "26.8 C by its air (it has no live sensor of its own), and it lets go at 25.5 C."},
      {"ceiling_called", Effect::cool, kRun, reason_of(Why::ceiling_called, bed, 26.8, 26.5, 25.5),
       "running for 12s: the substrate ceiling of 26.5 C calls it; substrate temperature is 26.8 "
       "C, and it lets go at 25.5 C."},
  };
}

std::vector<Case> fan_cases() {
  return {
      {"fan_co2", Effect::fresh_air, kRun,
       master(reason_of(Why::fan_called, co2, 1203.4, 855, 710), FanMaster::co2),
       "running for 12s: CO2 is 1203 ppm; it starts above 855 ppm and stops at 710 ppm."},
      {"fan_humidity", Effect::fresh_air, kRun,
       master(reason_of(Why::fan_called, rh, 95, 88.75, 87.5), FanMaster::humidity_high),
       "running for 12s: humidity is 95 %; it starts above 88.75 % and stops at 87.5 %."},
      {"fan_temperature", Effect::fresh_air, kRun,
       master(reason_of(Why::fan_called, t, 19, 18, 17), FanMaster::temperature),
       "running for 12s: air temperature is 19 C; it starts above 18 C and stops at 17 C."},
      {"fan_ceiling", Effect::fresh_air, kRun,
       master(reason_of(Why::fan_called, bed, 27, 26.5, 25.5), FanMaster::ceiling),
       "running for 12s: the substrate ceiling of 26.5 C calls for cooler air; substrate "
       "temperature is 27 C, and it lets go at 25.5 C."},
      {"fan_floor", Effect::fresh_air, kRun,
       until(master(reason_of(Why::fan_called), FanMaster::floor, seconds(40)), seconds(41)),
       "running for 12s: the fresh-air floor is owed 40s of fan, and its window ends in 41s."},
      {"fan_forbidden", Effect::fresh_air, kRest,
       master(reason_of(Why::fan_forbidden, t, 15.5, 15, 17), FanMaster::temperature),
       "resting for 12s: air temperature is 15.5 C, and the room's air would push it below 15 C; "
       "it "
       "may run above 16 C, or with a warmer room."},
      {"fan_forbidden_hot", Effect::fresh_air, kRest,
       master(reason_of(Why::fan_forbidden, t, 18.5, 19, 17), FanMaster::temperature),
       "resting for 12s: air temperature is 18.5 C, and the room's air would push it above 19 C; "
       "it "
       "may run below 18 C, or with a cooler room."},
      {"fan_idle", Effect::fresh_air, kRest, reason_of(Why::fan_idle),
       "resting for 12s: nothing asks for fresh air."},
      {"fan_idle_owed", Effect::fresh_air, kRest,
       until(master(reason_of(Why::fan_idle), FanMaster::floor, seconds(72)), minutes(5)),
       "resting for 12s: nothing asks for fresh air; its floor starts it in 5m at the latest."},
      {"fan_idle_met", Effect::fresh_air, kRest, until(reason_of(Why::fan_idle), minutes(5)),
       "resting for 12s: nothing asks for fresh air; its floor is met for another 5m."},
      {"fan_idle_co2", Effect::fresh_air, kRest, reason_of(Why::fan_idle, co2, 640, 855, 710),
       "resting for 12s: nothing asks for fresh air: CO2 is 640 ppm, and it starts above 855 "
       "ppm."},
      {"fan_idle_warm", Effect::fresh_air, kRest,
       until(reason_of(Why::fan_idle, t, 16, 17.25, 16.5), minutes(5)),
       "resting for 12s: nothing asks for fresh air: air temperature is 16 C, and it starts above "
       "17.25 C if the room's air is cooler; its floor is met for another 5m."},
      {"fan_coasting", Effect::fresh_air, kRest,
       until(reason_of(Why::fan_coasting, rh, 95, 88.75, 87.5), seconds(80)),
       "resting for 12s: humidity is 95 %, above 88.75 %, but the last mist settles first for "
       "another 1m 20s."},
      {"fan_no_help", Effect::fresh_air, kRest, reason_of(Why::fan_no_help, rh, 95, 88.75, 87.5),
       "resting for 12s: humidity is 95 %, above 88.75 %, but the room's air is no drier."},
      {"fan_no_help_warm", Effect::fresh_air, kRest, reason_of(Why::fan_no_help, t, 19, 18, 17),
       "resting for 12s: air temperature is 19 C, above 18 C, but the room's air is no cooler."},
      {"fan_room_blind", Effect::fresh_air, kRest,
       reason_of(Why::fan_room_blind, rh, 95, 88.75, 87.5),
       "resting for 12s: humidity is 95 %, above 88.75 %, but whether the room's air is drier is "
       "not known; see `room:` in tubwarden.yaml and the live readings."},
  };
}

std::vector<Case> hand_cases() {
  return {
      {"attended", Effect::humidify, kRest, until(reason_of(Why::attended), minutes(12)),
       "resting for 12s: hands are in the tub for another 12m."},
      {"held_resting", Effect::fresh_air, kRest, until(reason_of(Why::held_resting), minutes(30)),
       "resting for 12s: kept at rest by hand for another 30m."},
      {"held_running", Effect::fresh_air, kRun, until(reason_of(Why::held_running), minutes(30)),
       "running for 12s: kept running by hand for another 30m."},
      {"hand_opposed", Effect::heat, kRest, reason_of(Why::opposed),
       "resting for 12s: a hand would run it, but cooling still runs, and the two never run "
       "together."},
      {"hand_blind", Effect::heat, kRest, reason_of(Why::hand_blind),
       "resting for 12s: safe, because a hand would keep it running and no live temperature says "
       "how warm it gets."},
      {"tried", Effect::humidify, kRun, until(reason_of(Why::tried), seconds(3)),
       "running for 12s: tried by hand for another 3s."},
  };
}

std::vector<Case> other_cases() {
  return {
      {"nobody_here", Effect::humidify, kRest, reason_of(Why::nobody_here),
       "resting for 12s: safe, because nobody stands in this air; `tubwarden move TUB closet` "
       "brings a tub here."},
      {"not_led", Effect::humidify, kRest, reason_of(Why::not_led),
       "resting for 12s: safe, because several stand in this air and none of them leads; name the "
       "leader in chambers/closet.yaml."},
      {"not_confirmed", Effect::humidify, kRest, reason_of(Why::not_confirmed),
       "resting for 12s: safe until somebody confirms the phase with `tubwarden phase TUB "
       "PHASE`."},
      {"phase_unknown", Effect::humidify, kRest, reason_of(Why::phase_unknown),
       "resting for 12s: safe, because the profile does not know the recorded phase; name one it "
       "knows with `tubwarden phase TUB PHASE`, or add it to the profile."},
      {"phase_empty", Effect::humidify, kRest, reason_of(Why::phase_empty),
       "resting for 12s: the phase is empty and controls nothing; another begins with `tubwarden "
       "phase TUB PHASE`."},
      {"not_kept", Effect::heat, kRest, reason_of(Why::not_kept),
       "resting for 12s: this phase asks nothing of it."},
      {"no_reading", Effect::humidify, 300, reason_of(Why::no_reading, rh),
       "at its safe 30 % for 12s: safe until a live humidity reading comes."},
      {"no_reading_of", Effect::humidify, kRest, reason_of(Why::no_reading),
       "resting for 12s: safe until a live air reading comes."},
      {"opposed", Effect::heat, kRest, reason_of(Why::opposed, t, 15, 16, 17),
       "resting for 12s: air temperature is 15 C; it starts below 16 C and stops at 17 C, but "
       "cooling still runs, and the two never run together."},
      {"opposed_cool", Effect::cool, kRest, reason_of(Why::opposed, t, 19, 18, 17),
       "resting for 12s: air temperature is 19 C; it starts above 18 C and stops at 17 C, but "
       "heating still runs, and the two never run together."},
      {"light_on", Effect::light, kRun, until(reason_of(Why::light_on), hours(3)),
       "running for 12s: within its hours for another 3h."},
      {"light_off", Effect::light, kRest, until(reason_of(Why::light_off), hours(3)),
       "resting for 12s: outside its hours for another 3h."},
      {"clock_unset", Effect::light, kRest, reason_of(Why::clock_unset),
       "resting for 12s: safe, because the clock is not set and its hours are not known."},
      {"stir_with", Effect::stir, kRun, reason_of(Why::stir_with),
       "running for 12s: it stirs while the air is humidified, dried, heated or cooled."},
      {"stir_idle", Effect::stir, kRest, reason_of(Why::stir_idle),
       "resting for 12s: it stirs only while the air is humidified, dried, heated or cooled."},
      {"unusable", Effect::humidify, kRest, reason_of(Why::unusable),
       "resting for 12s: the host of mister ended."},
  };
}

std::vector<Case> blind_cases() {
  Reason duty = reason_of(Why::blind_duty, rh, 2.0, 4.0, 0);
  duty.since = kNow - minutes(123);
  duty.until = kNow + seconds(40);
  Reason over = reason_of(Why::blind_over, rh, 0, 0, 0);
  over.since = kNow - hours(13);
  return {
      {"duty", Effect::humidify, kRest, duty,
       "resting for 12s: blind, without a live humidity reading for 2h 3m: it runs for 2 % of the "
       "time, of the 4 % of its last day; its next run is in 40s."},
      {"duty_over", Effect::humidify, kRest, over,
       "resting for 12s: safe until a live humidity reading comes: blind for 13h, and it repeats "
       "its last day for 12h at most."},
      {"duty_unlearned", Effect::humidify, kRest, reason_of(Why::blind_unlearned, rh, -1.0, 0, 0),
       "resting for 12s: safe until a live humidity reading comes: it was not watched for long "
       "enough to know its share of a day."},
      {"duty_little", Effect::humidify, kRest, reason_of(Why::blind_unlearned, rh, 0, 0, 0),
       "resting for 12s: safe until a live humidity reading comes: in the last day it ran too "
       "little to repeat."},
      {"duty_unwatched", Effect::heat, kRest, reason_of(Why::blind_unwatched, bed, 0, 0, 0),
       "resting for 12s: safe until a live substrate temperature reading comes: it has no cut-out, "
       "and no live temperature under a substrate ceiling says how warm it gets."},
  };
}

std::vector<Case> surface_cases() {
  Reason bed_wet = reason_of(Why::dew_held, rh, 84, 86.25, 87.5);
  bed_wet.dew = DewReason{14.0, 14.3, false};
  Reason lid_wet = bed_wet;
  lid_wet.dew->lid = true;
  Reason dries = reason_of(Why::drying);
  dries.dries_until = kNow + minutes(80);
  return {
      {"dew_bed", Effect::humidify, kRest, bed_wet,
       "resting for 12s: the bed has 14 C, and the air's dew point 14.3 C: mist would only wet it; "
       "it waits until that is half a degree apart."},
      {"dew_lid", Effect::humidify, kRest, lid_wet,
       "resting for 12s: the lid is reckoned to have 14 C, and the air's dew point 14.3 C: mist "
       "would only wet it; it waits until that is half a degree apart, or humidity below 86.25 %."},
      {"drying", Effect::humidify, kRest, dries,
       "resting for 12s: the surfaces dry after the watering, for another 1h 20m at most."},
  };
}

std::vector<Case> cases() {
  std::vector<Case> all;
  for (const auto& some : {band_cases(), ceiling_cases(), fan_cases(), hand_cases(), blind_cases(),
                           surface_cases(), other_cases()}) {
    all.insert(all.end(), some.begin(), some.end());
  }
  return all;
}

ActuatorPlan plan_of(Effect effect) {
  ActuatorPlan plan;
  plan.effect = effect;
  plan.output.safe = 300;
  plan.output.id = {"closet", "part"};
  return plan;
}

TEST(Reason, EveryOneIsASentence) {
  for (const Case& c : cases()) {
    const std::string got = sentence(c.reason, plan_of(c.effect), c.level, kNow - seconds(12), kNow,
                                     "the host of mister ended. ");
    EXPECT_EQ(got, c.sentence) << c.name;
  }
}

TEST(Reason, EveryWhyAndLockIsAmongThem) {
  const auto all = cases();
  for (int why = 0; why <= static_cast<int>(Why::unusable); ++why) {
    EXPECT_TRUE(std::any_of(all.begin(), all.end(),
                            [&](const Case& c) { return static_cast<int>(c.reason.why) == why; }))
        << "why " << why;
  }
  for (int lock = 0; lock <= static_cast<int>(Lock::starts_per_hour); ++lock) {
    EXPECT_TRUE(std::any_of(all.begin(), all.end(),
                            [&](const Case& c) { return static_cast<int>(c.reason.lock) == lock; }))
        << "lock " << lock;
  }
}

Profile profile_of_three() {
  Profile profile;
  const QuantityPlan between{Keep{Keep::Form::between, 85, 90}, {}, {}};
  const QuantityPlan above{Keep{Keep::Form::above, 90, 0}, {}, {}};
  for (const char* name : {"colonization", "pinning", "fruiting"}) {
    PhasePlan phase;
    phase.name = name;
    profile.phases.push_back(phase);
  }
  profile.phases[0].quantities[index_of(Quantity::humidity)] = above;
  profile.phases[0].quantities[index_of(Quantity::substrate_temperature)] = between;
  profile.phases[1].quantities[index_of(Quantity::humidity)] = between;
  profile.phases[1].quantities[index_of(Quantity::air_temperature)] = between;
  profile.phases[2].quantities[index_of(Quantity::humidity)] = between;
  profile.phases[2].light = LightHours{360, 1080};
  return profile;
}

std::string not_kept(Effect effect, const char* phase, const Profile& profile) {
  return sentence(reason_of(Why::not_kept), plan_of(effect), kRest, kNow - seconds(12), kNow, "",
                  {"tub-1", phase, &profile});
}

TEST(Reason, WhatAPhaseDoesNotAskNamesThosePhasesThatWould) {
  const Profile profile = profile_of_three();
  EXPECT_EQ(not_kept(Effect::heat, "fruiting", profile),
            "resting for 12s: phase fruiting asks nothing of it; colonization or pinning would.");
  EXPECT_EQ(not_kept(Effect::dehumidify, "colonization", profile),
            "resting for 12s: phase colonization asks nothing of it; pinning or fruiting would.")
      << "keep_above has no use for drying";
  EXPECT_EQ(not_kept(Effect::light, "fruiting", profile),
            "resting for 12s: phase fruiting asks nothing of it, nor does another of its profile.");
}

TEST(Reason, ACommandNamesTheTubThatLeads) {
  EXPECT_EQ(sentence(reason_of(Why::not_confirmed), plan_of(Effect::heat), kRest,
                     kNow - seconds(12), kNow, "", {"tub-1", "", nullptr}),
            "resting for 12s: safe until somebody confirms the phase with `tubwarden phase tub-1 "
            "PHASE`.");
}

TEST(Reason, ADriverWithoutAWordIsNotReady) {
  EXPECT_EQ(sentence(reason_of(Why::unusable), plan_of(Effect::heat), kRest, kNow - seconds(12),
                     kNow, ""),
            "resting for 12s: its driver is not ready.");
}

TEST(Reason, JustNowHasNoDuration) {
  const Reason mist = reason_of(Why::called, Quantity::humidity, 83.1, 86.25, 87.5);
  const auto told = [&](Level level, Duration ago) {
    const std::string all = sentence(mist, plan_of(Effect::humidify), level, kNow - ago, kNow, "");
    return all.substr(0, all.find(':'));
  };
  EXPECT_EQ(told(kRun, Duration{0}), "started just now");
  EXPECT_EQ(told(kRun, milliseconds(999)), "started just now");
  EXPECT_EQ(told(kRun, seconds(1)), "running for 1s");
  EXPECT_EQ(told(kRest, Duration{0}), "came to rest just now");
  EXPECT_EQ(told(300, Duration{0}), "went to its safe 30 % just now");
}

TEST(Reason, WhatIsOnItsWayBackIsNotSaidToBeAbove) {
  const Reason back = reason_of(Why::fan_no_help, Quantity::humidity, 91.3, 92, 90);
  EXPECT_EQ(sentence(back, plan_of(Effect::fresh_air), kRest, kNow - seconds(12), kNow, ""),
            "resting for 12s: humidity is 91.3 %, was above 92 % and is not yet at 90 %, but the "
            "room's air is no drier.");
}

TEST(Reason, AMomentThatIsPastIsNotTold) {
  const Reason floor =
      until(master(reason_of(Why::fan_called), FanMaster::floor, seconds(40)), Duration{0});
  EXPECT_EQ(sentence(floor, plan_of(Effect::fresh_air), kRun, kNow - seconds(12), kNow, ""),
            "running for 12s: the fresh-air floor is owed 40s of fan.");
  const Reason lit = until(reason_of(Why::light_on), -seconds(5));
  EXPECT_EQ(sentence(lit, plan_of(Effect::light), kRun, kNow - seconds(12), kNow, ""),
            "running for 12s: within its hours.");
}

}  // namespace
}  // namespace tubwarden
