// Warnings: what is read and runs, but will not work as one may think.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

class Advice : public testing::Test {
 protected:
  /// Warnings alone; what is warned of is whole.
  std::vector<std::string> warnings() {
    const Loaded loaded = folder.load();
    EXPECT_FALSE(loaded.has_errors());
    EXPECT_EQ(loaded.grow.tubs.size(), 2u);
    return bench::told(loaded);
  }
  bench::Folder folder;
};

TEST_F(Advice, OutputWithoutATimerOfItsOwnSaysTheLimits) {
  folder.spoil("tubs/tub-1.yaml", "falls_by_itself_after: 30s", "falls_by_itself_after: never");
  EXPECT_THAT(
      warnings(),
      ElementsAre("tubs/tub-1.yaml:28:30: warning: mister has no timer of its own: it falls "
                  "by the broker's will when this board is gone, but goes on running when "
                  "the relay itself is cut off from the broker"));
  EXPECT_FALSE(folder.load().grow.chamber("tub-1")->actuators[0].output.falls_by_itself_after);
}

TEST_F(Advice, HeaterWithACutOutIsAllowedToNeverFall) {
  folder.spoil("tubs/tub-1.yaml", "falls_by_itself_after: 60s",
               "falls_by_itself_after: never\n      cut_out: bimetal switch, 45 C");
  EXPECT_THAT(
      warnings(),
      ElementsAre("tubs/tub-1.yaml:43:30: warning: mat has no timer of its own: it falls by "
                  "the broker's will when this board is gone, but goes on running when the "
                  "relay itself is cut off from the broker, until its cut-out stops it"));
}

TEST_F(Advice, FanWithoutARoomSaysWhatItIsNeverCalledFor) {
  folder.spoil("tubwarden.yaml", "room: {temperature: 15 C, humidity: 50 %}\n", "");
  EXPECT_THAT(warnings(),
              ElementsAre("tubs/tub-1.yaml:30:11: warning: the room's temperature and humidity are "
                          "not known, so the fan is never called for humidity, temperature and the "
                          "substrate ceiling; give it as room: in tubwarden.yaml"));
}

TEST_F(Advice, FanWithHalfARoomSaysWhatIsMissing) {
  folder.spoil("tubwarden.yaml", "room: {temperature: 15 C, humidity: 50 %}",
               "room: {temperature: 15 C}");
  EXPECT_THAT(warnings(), ElementsAre("tubs/tub-1.yaml:30:11: warning: the room's humidity is not "
                                      "known, so the fan is never called for humidity; give it as "
                                      "room: in tubwarden.yaml"));
}

TEST_F(Advice, CeilingWithoutASensorInTheSubstrateIsJudgedFromTheAir) {
  folder.spoil("tubs/tub-2.yaml", "stands_in: closet",
               "stands_in: closet\nsubstrate_ceiling: 26.5 C");
  folder.spoil("chambers/closet.yaml", "place: substrate", "place: air");
  EXPECT_THAT(
      warnings(),
      ElementsAre("chambers/closet.yaml:1:10: warning: no sensor of closet measures substrate "
                  "temperature, so colonization neither keeps nor warns of it",
                  "tubs/tub-2.yaml:6:20: warning: no sensor of closet is in the substrate; the "
                  "ceiling is judged from the air's temperature + 3 C"));
}

TEST_F(Advice, APlanThatWaitsForWhatNobodyReadsIsTold) {
  folder.spoil("profiles/button.yaml", "next: fruiting",
               "next: {phase: fruiting, when: {substrate_temperature: {below: 18 C}}}");
  folder.spoil("chambers/closet.yaml", "place: substrate", "place: air");
  EXPECT_THAT(warnings(), testing::Contains(
                              "chambers/closet.yaml:1:10: warning: no sensor of closet measures "
                              "substrate temperature, so the plan of colonization never goes on"));
}

TEST_F(Advice, CeilingInsideABandIsTold) {
  folder.spoil("tubs/tub-1.yaml", "substrate_ceiling: 26.5 C", "substrate_ceiling: 25 C");
  EXPECT_THAT(warnings(), ElementsAre("tubs/tub-1.yaml:6:20: warning: the ceiling lies inside the "
                                      "band of colonization, whose upper part is never reached"));
}

TEST_F(Advice, BandNarrowerThanTheSensorIsAccurate) {
  folder.spoil("tubs/tub-1.yaml", "accuracy: 2 %", "accuracy: 2.6 %");
  EXPECT_THAT(
      warnings(),
      ElementsAre("tubs/tub-1.yaml:10:11: warning: air knows humidity to +- 2.6 % only; the "
                  "band of fruiting is narrower than that"));
}

TEST_F(Advice, BandAsWideAsTheSensorIsAccurateIsWellEnough) {
  folder.spoil("tubs/tub-1.yaml", "accuracy: 2 %", "accuracy: 2.5 %");
  folder.spoil("tubs/tub-1.yaml", "{unit: F, place: substrate}",
               "{unit: F, place: substrate, accuracy: 0.75 C}");
  EXPECT_THAT(warnings(), IsEmpty());
}

TEST_F(Advice, WhatIsAskedAndNotMeasuredIsTold) {
  folder.spoil("chambers/closet.yaml", "    co2: {at: /co2}\n", "");
  EXPECT_THAT(warnings(), ElementsAre("chambers/closet.yaml:1:10: warning: no sensor of closet "
                                      "measures CO2, so fruiting neither keeps nor warns of it"));
}

TEST_F(Advice, MisterWhoseShortestRunIsTooMuchForTheBand) {
  // 1 s at 100 g/h is 27.78 mg. At 16.5 C saturated air holds 14.05 g/m3 (between 13.62 at 16 C and
  // 14.48 at 17 C, by the saturation formula of ASHRAE Fundamentals 2017 ch. 1), 40 L of it 0.562
  // g: 4.94 % RH, of a band of 5 % RH.
  folder.spoil("tubs/tub-1.yaml", "rate: 20 g/h", "rate: 100 g/h");
  folder.spoil("tubs/tub-1.yaml", "shortest_run: 500ms", "shortest_run: 1s");
  EXPECT_THAT(
      warnings(),
      ElementsAre("tubs/tub-1.yaml:22:11: warning: one shortest run (1s) lifts this air by "
                  "4.9 % RH, 99 % of the band of fruiting; a quarter or less keeps it: shorten "
                  "shortest_run, or take a weaker mister"));
}

TEST_F(Advice, MisterThatCannotDoseSaysWhy) {
  folder.spoil("tubs/tub-1.yaml", "      rate: 20 g/h\n", "");
  EXPECT_THAT(warnings(), Contains(HasSubstr("the rate of mister is not given, so it cannot dose "
                                             "and runs from the start point to the middle")));
  folder.spoil("tubs/tub-1.yaml", "  net_volume: 40 L\n",
               "  net_volume: 40 L\n  control: hysteresis\n");
  EXPECT_THAT(warnings(), Not(Contains(HasSubstr("cannot dose")))) << "it is not asked to";
  EXPECT_EQ(folder.load().grow.chamber("tub-1")->control, Control::hysteresis);
}

TEST_F(Advice, SensorTooCoarseToDoseBy) {
  EXPECT_EQ(folder.load().grow.chamber("tub-1")->control, Control::portions);
  folder.spoil("tubs/tub-1.yaml", "humidity: {at: /rh", "humidity: {at: /rh, step: 2.5 %");
  EXPECT_THAT(warnings(), Contains(HasSubstr("steps of 2.5 % only, more than 2 %, so mister cannot "
                                             "dose")));
}

TEST_F(Advice, FloorThatTheFanCannotReach) {
  folder.spoil("profiles/button.yaml", "changes: 1", "changes: 20");
  // 20 x 40 L at 2 m3/h: 24 min of every 15.
  EXPECT_THAT(warnings(),
              ElementsAre("tubs/tub-1.yaml:30:11: warning: in fruiting the fresh-air floor needs "
                          "24m of this fan in every 15m, more than there is; it will run without "
                          "end and not reach it"));
}

TEST_F(Advice, LessCo2ThanTheRoomHas) {
  folder.spoil("profiles/button.yaml", "keep_below: 1000 ppm", "keep_below: 400 ppm");
  EXPECT_THAT(warnings(),
              ElementsAre("chambers/closet.yaml:1:10: warning: fruiting asks for less CO2 than the "
                          "room has (420 ppm); fresh air cannot reach it",
                          "tubs/tub-1.yaml:7:1: warning: fruiting asks for less CO2 than the room "
                          "has (420 ppm); fresh air cannot reach it"));
}

TEST_F(Advice, NothingIsSaidOfARoomThatCouldNotBeRead) {
  folder.spoil("tubwarden.yaml", "temperature: 15 C", "temperature: 15");
  EXPECT_EQ(folder.load().findings.size(), 1u);
}

}  // namespace
}  // namespace tubwarden
