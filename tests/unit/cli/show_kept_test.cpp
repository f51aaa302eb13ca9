// The climate that each phase kept, and the flush a tub is in, as a grower reads them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "programs/cli/show.hpp"
#include "samples.hpp"

namespace {

using namespace tubwarden::cli;
using nlohmann::ordered_json;
using testing::HasSubstr;

ordered_json kept() {
  return ordered_json::parse(R"({"batch":"B-07","rows":[
    {"tub":"tub-1","phase":"rest","flush":2,"from":"2026-11-22T09:00:00Z",
     "to":"2026-11-25T10:00:00Z","lasts":false,"lasted_s":262800,
     "quantities":[
       {"quantity":"humidity","word":"humidity","unit":"%","live_s":260000,"banded_s":260000,
        "inside_s":241800,"mean":87.1,"least":79.8,"most":93.0,"at_least":false},
       {"quantity":"co2","word":"CO2","unit":"ppm","live_s":260000,"banded_s":0,"inside_s":0,
        "mean":912,"least":455,"most":5000,"at_least":true}],
     "outputs":[{"id":"fan","run_s":18000}],
     "alerts":[{"cause":"humidity_low","times":3}],"watered_ml":150},
    {"tub":"tub-2","phase":"casing","flush":null,"from":"2026-11-22T09:00:00Z","to":null,
     "lasts":true,"lasted_s":600,"quantities":[],"outputs":[],"alerts":[],"watered_ml":0}]})");
}

TEST(ShowKept, SaysOfEachPhaseWhatItKept) {
  const Shown page = show_kept(kept().dump(), cli_test::look_of(100));
  ASSERT_TRUE(page.ok());
  EXPECT_THAT(*page, HasSubstr("tub-1  rest, flush 2, "));
  EXPECT_THAT(cli_test::line_with(*page, "humidity  "),
              HasSubstr("87.1 %  79.8 to 93; in its band 93 % of the time"));
  EXPECT_THAT(cli_test::line_with(*page, "CO2"), HasSubstr("912 ppm  455 to 5000 or more"));
  EXPECT_THAT(*page, HasSubstr("fan ran 5h"));
  EXPECT_THAT(*page, HasSubstr("150 mL given"));
  EXPECT_THAT(*page, HasSubstr("alerts: humidity_low 3x"));
  EXPECT_THAT(cli_test::line_with(*page, "tub-2"), HasSubstr("casing, 10m  since "));
  EXPECT_THAT(*page, HasSubstr("no reading was usable"));
  EXPECT_FALSE(show_kept("{}", cli_test::look_of(100)).ok());
  EXPECT_TRUE(
      show_kept(R"({"rows":[{"quantities":7,"outputs":null}]})", cli_test::look_of(40)).ok());
}

TEST(ShowKept, TheStatusNumbersTheFlush) {
  ordered_json json = ordered_json::parse(cli_test::sample("status.json"));
  json["tubs"][0]["phase"] = "fruiting";
  json["tubs"][0]["loop"] = "fruiting";
  json["tubs"][0]["flush"] = 2;
  json["tubs"][0]["day"] = 3;
  EXPECT_THAT(*show_status(json.dump(), cli_test::look_of(120)),
              HasSubstr("  fruiting, flush 2, day 3 "));
  json["tubs"][0]["phase"] = "rest";
  EXPECT_THAT(*show_status(json.dump(), cli_test::look_of(120)),
              HasSubstr("  fruiting, flush 2, rest, day 3 "));
}

}  // namespace
