// What was decided, as a grower reads it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "programs/cli/show.hpp"
#include "samples.hpp"

namespace {

using namespace tubwarden::cli;
using cli_test::line_with;
using cli_test::lines_of;
using nlohmann::json;
using testing::HasSubstr;
using testing::Not;

json decision(const char* at, const char* id, double level, const char* why, bool set = true) {
  return {{"at", at}, {"clock_set", set}, {"id", id}, {"level_pct", level}, {"why", why}};
}

json decisions() {
  return {{"chamber", "tub-1"},
          {"rows",
           {decision("2026-11-25T10:00:05Z", "mister", 0, "came to rest just now: damp."),
            decision("2026-11-25T10:00:00Z", "mister", 100, "started just now: dry."),
            decision("2026-11-24T22:00:00Z", "fan", 30, "at its safe 30 %.", false)}}};
}

TEST(ShowPast, DecisionsStandBelowTheirDaysTheNewestLast) {
  const auto page = show_decisions(decisions().dump(), cli_test::look_of(80));
  ASSERT_TRUE(page.ok());
  EXPECT_EQ(*page,
            "24 Nov 2026\n"
            "22:00:00  fan     30 %   at its safe 30 %. (the clock was not set yet)\n"
            "\n"
            "25 Nov 2026\n"
            "10:00:00  mister  runs   started just now: dry.\n"
            "10:00:05  mister  rests  came to rest just now: damp.\n");
  EXPECT_EQ(*show_decisions(R"({"rows":[]})", cli_test::look_of(80)),
            "No decision is kept of it yet.\n");
  EXPECT_FALSE(show_decisions("{}", cli_test::look_of(80)).ok());
}

json moment() {
  const auto air = [](const char* word, const char* unit, const char* sensor, double value,
                      double age) {
    return json{{"quantity", word}, {"word", word},   {"unit", unit},
                {"sensor", sensor}, {"value", value}, {"age_s", age}};
  };
  return {{"tub", "tub-1"},
          {"chamber", "closet"},
          {"batch", "B-07"},
          {"at", "2026-11-25T10:00:00Z"},
          {"phase", "fruiting"},
          {"phase_since", "2026-11-22T09:00:00Z"},
          {"air", {air("humidity", "%", "air", 83.1, 4), air("CO2", "ppm", "air", 1170, 64)}},
          {"lines",
           {decision("2026-11-25T09:59:00Z", "mister", 100, "started just now: dry."),
            decision("2026-11-24T09:59:00Z", "fan", 0, "nothing asks for fresh air.")}}};
}

TEST(ShowPast, AMomentHasItsPlacePhaseAirAndReasons) {
  const auto page = show_why_at(moment().dump(), cli_test::look_of(80));
  ASSERT_TRUE(page.ok());
  EXPECT_THAT(*page, HasSubstr("25 Nov 2026 10:00:00 in closet, batch B-07, phase fruiting since"));
  EXPECT_THAT(line_with(*page, "humidity"), HasSubstr("83.1 %  4s before"));
  EXPECT_THAT(line_with(*page, "CO2"), HasSubstr("1170 ppm  1m before"));
  EXPECT_EQ(line_with(*page, "mister"), "since 09:59:00  mister  runs   started just now: dry.");
  EXPECT_THAT(line_with(*page, "fan"), HasSubstr("since 24 Nov 2026 09:59:00  fan"));
  EXPECT_THAT(*page, Not(HasSubstr("(air)")));
}

TEST(ShowPast, AMomentOfWhichLittleIsKnownSaysSo) {
  json bare = moment();
  bare["phase"] = "";
  bare["air"] = json::array();
  bare["lines"] = json::array();
  bare["chamber"] = "tub-1";
  const auto page = show_why_at(bare.dump(), cli_test::look_of(80));
  EXPECT_THAT(*page, HasSubstr("in its own air, batch B-07, no phase was confirmed"));
  EXPECT_THAT(*page, HasSubstr("nothing was read in the ten minutes before"));
  EXPECT_THAT(*page, HasSubstr("No decision of it is kept from before that."));
}

TEST(ShowPast, TwoSensorsOfOneQuantityAreNamed) {
  json two = moment();
  two["air"].push_back(two["air"][0]);
  two["air"][2]["sensor"] = "lid";
  const auto page = show_why_at(two.dump(), cli_test::look_of(80));
  EXPECT_THAT(*page, HasSubstr("humidity (air)"));
  EXPECT_THAT(*page, HasSubstr("humidity (lid)"));
  EXPECT_THAT(*page, Not(HasSubstr("CO2 (air)")));
}

TEST(ShowPast, PagesFitANarrowTerminalAndObeyNoForeignControl) {
  json evil = decisions();
  evil["rows"][0]["why"] = "\x1b[2Jgone, and a long sentence that goes on and on over the edge";
  const auto page = show_decisions(evil.dump(), cli_test::look_of(40));
  EXPECT_THAT(*page, Not(HasSubstr("\x1b")));
  for (const std::string& line : lines_of(*page)) EXPECT_LE(columns(line), 46U) << line;
}

}  // namespace
