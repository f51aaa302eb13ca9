#include "programs/cli/show.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "samples.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using cli_test::line_with;
using cli_test::lines_of;
using cli_test::look_of;
using cli_test::sample;
using nlohmann::ordered_json;
using ::testing::AllOf;
using ::testing::EndsWith;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

std::string status(const Look& look = look_of(80)) {
  const Shown page = show_status(sample("status.json"), look);
  EXPECT_TRUE(page.ok());
  return page.ok() ? *page : "";
}

std::size_t place_of(const std::string& page, const std::string& words) {
  const auto at = page.find(words);
  EXPECT_NE(at, std::string::npos) << words << "\n" << page;
  return at;
}

TEST(ShowStatus, WhatIsWrongStandsFirstAndThePressingAbove) {
  const std::string page = status();
  EXPECT_THAT(lines_of(page)[0],
              AllOf(StartsWith("cellar  25 Nov 2026 12:31:07"), EndsWith("4 things are wrong")));
  EXPECT_LT(place_of(page, "now    19m  tub-1: sensor bed"), place_of(page, "today   2h  tub-4"));
  EXPECT_LT(place_of(page, "today   2h  tub-4"), place_of(page, "noted       tubs/tub-3.yaml:4:8"));
  EXPECT_LT(place_of(page, "noted       tubs/tub-3.yaml"), place_of(page, "tub-2  casing, day 9"));
  EXPECT_THAT(page, Not(HasSubstr("this relay has no timer"))) << "a warning is no error";
  EXPECT_THAT(line_with(page, "config"), HasSubstr("1 warning"));
}

TEST(ShowStatus, AFindingThatAnAlertTellsIsToldOnce) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  json["alerts"].push_back({{"place", "site"},
                            {"cause", "configuration"},
                            {"rank", "today"},
                            {"text", "The configuration has errors. First: " +
                                         json["config"]["findings"][0].get<std::string>()},
                            {"since_s", 3}});
  const Shown page = show_status(json.dump(), look_of(80));
  EXPECT_THAT(lines_of(*page)[0], EndsWith("4 things are wrong"));
  EXPECT_THAT(*page, Not(HasSubstr("noted")));
}

TEST(ShowStatus, ADryRunIsSaidBeforeEverythingElse) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  EXPECT_THAT(status(), Not(HasSubstr("DRY RUN")));
  json["dry_run"] = true;
  const Shown page = show_status(json.dump(), look_of(80));
  EXPECT_THAT(lines_of(*page)[1], StartsWith("DRY RUN  nothing is switched"));
}
TEST(ShowStatus, AReadingStandsInItsBandWithItsMarkAndAge) {
  const std::string page = status();
  EXPECT_EQ(line_with(page, "93.4 %"),
            "  humidity       93.4 %  ╎············├───●──┤··╎·  90..96     in band    8s ago");
  EXPECT_EQ(line_with(page, "74.2 %  "),
            "! humidity       74.2 %  ◂·········├──────┤······╎  85..90     TOO LOW    3s ago");
  EXPECT_THAT(line_with(page, "912 ppm"), HasSubstr("below 1000 in band"));
  EXPECT_THAT(line_with(page, ">=5000 ppm"), EndsWith("8s ago"));
  EXPECT_THAT(line_with(page, "26.4 C"), AllOf(HasSubstr("substrate "), HasSubstr(" high ")));
}

TEST(ShowStatus, WhatFollowsFromTheReadingsStandsBelowThem) {
  EXPECT_THAT(status(),
              HasSubstr("  dew point 12.1 C; humidity ratio 8.7 g/kg; drying power at the "
                        "bed 0.64 kPa,\n  kept at 0.1..0.3 kPa, TOO HIGH\n"));
}

TEST(ShowStatus, AReadingThatDrivesNothingIsNotJudged) {
  EXPECT_THAT(line_with(status(), "17.9 C"),
              AllOf(StartsWith("  substrate"), HasSubstr("not live  24m ago")));
  ordered_json json = ordered_json::parse(sample("status.json"));
  json["chambers"][1]["air"][0]["value"] = nullptr;
  json["chambers"][1]["air"][0]["age_s"] = nullptr;
  json["chambers"][1]["air"][0]["usable"] = false;
  const Shown page = show_status(json.dump(), look_of(80));
  EXPECT_THAT(line_with(*page, "85..90"), AllOf(HasSubstr(" none "), HasSubstr("unheard")));
}

TEST(ShowStatus, AnActuatorSaysItsSentenceAndWhatItLacks) {
  const std::string page = status(look_of(160));
  EXPECT_THAT(page, HasSubstr("▮ mister     running for 2s: humidity is 74.2 %; it starts below "
                              "86.25 % and stops at 87.5 %. 14 starts in the last hour. 1 restart "
                              "of its driver. "
                              "It cannot\n"));
  EXPECT_THAT(page, HasSubstr("fall safe by itself.\n"));
  EXPECT_THAT(page, HasSubstr("! mat        resting for 18s"));
  EXPECT_THAT(page, HasSubstr("failed safe. See what it is, then: tubwarden outputs release tub-1 "
                              "mat\n"));
  EXPECT_THAT(page, HasSubstr("  fan        resting for 6m 43s"));
}

TEST(ShowStatus, AnOutputOfASharedAirIsReleasedByItsLeadersName) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  json["chambers"][0]["actuators"][0]["health"] = "cannot be made safe";
  const Shown page = show_status(json.dump(), look_of(120));
  EXPECT_THAT(*page, HasSubstr("! humidifier resting for 5m 12s"));
  EXPECT_THAT(*page, HasSubstr("cannot be made safe. See what it is, then: tubwarden outputs "
                               "release tub-2 humidifier\n"));
}

TEST(ShowStatus, TubsOfOneAirShareItsStrip) {
  const std::string page = status();
  const auto second = place_of(page, "tub-2  casing, day 9 ──");
  const auto fourth = place_of(page, "tub-4  phase not confirmed ──");
  const auto air = place_of(page, "the air of closet, led by tub-2");
  EXPECT_LT(second, fourth);
  EXPECT_LT(fourth, air);
  EXPECT_THAT(page, HasSubstr("\n  file says colonization, record says casing\n"));
  EXPECT_THAT(page, HasSubstr("tubwarden phase tub-4 casing\n"));
}

TEST(ShowStatus, ATubWithoutAWholeAirIsSaid) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  json["chambers"].erase(1);
  EXPECT_THAT(*show_status(json.dump(), look_of(80)),
              HasSubstr("its air has no whole configuration; nothing is switched"));
  json["chambers"].clear();
  json["tubs"].clear();
  EXPECT_THAT(*show_status(json.dump(), look_of(80)), HasSubstr("No tub is configured"));
}

TEST(ShowStatus, EachDriversProcessSaysWhatItIsHeldTo) {
  const std::string page = status(look_of(160));
  EXPECT_THAT(page, HasSubstr("driver  mqtt_relay, pid 811, lease left 12s, 1 restart; held to: "
                              "memory 128 MiB; not held: files (this kernel has no Landlock)\n"));
  EXPECT_THAT(page, HasSubstr("driver  simulated has no process now, 3 restarts\n"));
}

TEST(ShowStatus, TheMachinesTroublesAreAmongWhatIsWrong) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  json["alerts"].clear();
  json["config"]["findings"].clear();
  EXPECT_THAT(lines_of(*show_status(json.dump(), look_of(80)))[0], EndsWith("nothing is wrong"));
  json["broker"]["up"] = false;
  json["clock_set"] = false;
  json["at"] = nullptr;
  json["record"]["failures"] = 1;
  for (int i = 0; i < 9; ++i) {
    json["config"]["findings"].push_back("tubs/t.yaml:" + std::to_string(i + 1) + ":1: wrong");
  }
  const std::string page = *show_status(json.dump(), look_of(80));
  EXPECT_THAT(lines_of(page)[0],
              AllOf(StartsWith("cellar  clock not set"), EndsWith("9 things are wrong")));
  EXPECT_THAT(page, HasSubstr("the broker is away"));
  EXPECT_THAT(page, HasSubstr("clock is not set"));
  EXPECT_THAT(page, HasSubstr("1 entry could not be kept"));
  EXPECT_THAT(page, HasSubstr("t.yaml:5:1"));
  EXPECT_THAT(page, Not(HasSubstr("t.yaml:6:1"))) << "a page is no log";
  EXPECT_THAT(page, HasSubstr("and more, told by tubwarden check /etc/tubwarden"));
  json["alerts"].push_back({{"place", "site"},
                            {"cause", "broker_lost"},
                            {"rank", "now"},
                            {"text", "T"},
                            {"since_s", 9}});
  EXPECT_THAT(*show_status(json.dump(), look_of(80)), Not(HasSubstr("the broker is away")))
      << "told once";
}

TEST(ShowStatus, NoLineIsWiderThanTheWindow) {
  for (int width = 60; width <= 160; ++width) {
    for (const std::string& line : lines_of(status(look_of(width, true)))) {
      EXPECT_LE(columns(line), static_cast<std::size_t>(width)) << line;
    }
  }
}

TEST(ShowStatus, AsciiIsAsciiAndPlainIsPlain) {
  for (const char c : status(look_of(80, false, false))) {
    EXPECT_TRUE(c == '\n' || (c >= ' ' && c <= '~')) << static_cast<int>(c);
  }
  EXPECT_THAT(status(look_of(80)), Not(HasSubstr("\x1b")));
  EXPECT_THAT(status(look_of(80, true)), HasSubstr("\x1b[1;31m"));
}

TEST(ShowStatus, WordsFromElsewhereDoNotReachTheTerminalsEar) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  const std::string evil = "\x1b]0;owned\x07\x1b[2J";
  json["site"] = evil;
  json["tubs"][0]["batch"] = evil;
  json["tubs"][1]["note"] = evil;
  json["chambers"][1]["actuators"][0]["why"] = evil;
  json["chambers"][1]["actuators"][0]["id"] = evil;
  json["chambers"][1]["air"][0]["unit"] = evil;
  json["chambers"][0]["leader"] = evil;
  json["alerts"][0]["text"] = evil;
  json["alerts"][0]["rank"] = evil;
  json["alerts"][0]["place"] = evil;
  json["broker"]["url"] = evil;
  json["config"]["findings"][0] = evil;
  const std::string page = *show_status(json.dump(), look_of(80));
  EXPECT_THAT(page, AllOf(Not(HasSubstr("\x1b")), Not(HasSubstr("\x07"))));
}

/// An answer of another version lacks members or has them of another kind.
void break_each(const ordered_json& whole, ordered_json& at,
                const std::function<void(const std::string&)>& show, const ordered_json& root) {
  if (!at.is_structured()) return;
  for (auto it = at.begin(); it != at.end(); ++it) {
    const ordered_json kept = *it;
    for (const char* other : {"null", "7", "\"x\"", "[]", "{}", "[1]", "true"}) {
      *it = ordered_json::parse(other);
      show(root.dump());
    }
    *it = kept;
    break_each(whole, *it, show, root);
  }
}

TEST(ShowStatus, AnAnswerOfAnotherVersionIsAPageOrAnErrorAndNeverACrash) {
  ordered_json json = ordered_json::parse(sample("status.json"));
  int pages = 0, errors = 0;
  break_each(
      json, json,
      [&](const std::string& text) { ++(show_status(text, look_of(80)).ok() ? pages : errors); },
      json);
  EXPECT_GT(pages, 1000);
  EXPECT_EQ(errors, 0) << "only a missing 'tubs' is one";
  for (const char* text : {"", "{", "[]", "7", "{}", R"({"rows":[]})"}) {
    const Shown page = show_status(text, look_of(80));
    ASSERT_FALSE(page.ok()) << text;
    EXPECT_THAT(page.error().text, HasSubstr("of one version?"));
  }
}

TEST(ShowWhy, ASentenceAnActuator) {
  const std::string json =
      R"({"chamber":"tub-1","lines":[{"id":"mister","why":"running for 2s: x."},)"
      R"({"id":"fan","why":"resting for 6m: y."}]})";
  EXPECT_EQ(*show_why(json, look_of(80)),
            "mister  running for 2s: x.\nfan     resting for 6m: y.\n");
  EXPECT_EQ(*show_why(R"({"lines":[]})", look_of(80)),
            "There is no actuator in this air; nothing is switched.\n");
}

TEST(ShowOutputs, ATableAndTheWayOutOfAFailure) {
  const std::string page = *show_outputs(sample("outputs.json"), look_of(80));
  const auto lines = lines_of(page);
  EXPECT_EQ(lines[1], "closet  humidifier  mqtt_relay  ready        runs   12s   0     4211  3s");
  EXPECT_EQ(lines[2],
            "tub-1   mat         mqtt_relay  failed safe  rests  0s    3     0     never");
  EXPECT_EQ(lines[3], "tub-1   lamp        simulated   starting     40 %   4s    1     4212  host");
  EXPECT_THAT(page, HasSubstr("tubwarden outputs release tub-1 mat"));
  for (const std::string& line : lines) EXPECT_LE(columns(line), 80u) << line;
}

TEST(ShowBatch, ATimeLineWithAHeadingADay) {
  Look look = look_of(80);
  look.east_of_utc = [](WallTime) { return Duration(hours(1)); };
  const std::string page = *show_batch(sample("batch.json"), look);
  EXPECT_EQ(page,
            "batch B-07\n"
            "\n"
            "23 Nov 2026\n"
            "     5  23:58:01  mara          batch B-07 opened with profile button (the clock\n"
            "                                was not set yet)\n"
            "     7  23:58:02  mara          tub-1: phase casing begins\n"
            "\n"
            "24 Nov 2026\n"
            "    31  08:10:44  file          tub-1: phase casing -> fruiting, by its file\n"
            "    32  08:11:30  file          tub-1: phase fruiting -> casing, a slip taken\n"
            "                                back (corrects 31)\n"
            "    40  21:00:00  a-very-long~  tub-1: first pins at the left edge, near the\n"
            "                                heat mat, and a dry patch in the middle\n");
}

TEST(ShowDone, TheSentenceAndItsEntry) {
  EXPECT_EQ(*show_done(R"({"entry":7,"on_disk":true,"text":"tub-1: a -> b"})", look_of(80)),
            "tub-1: a -> b (entry 7)\n");
  EXPECT_EQ(
      *show_done(R"({"entry":null,"on_disk":true,"text":"tub-1 is in b already"})", look_of(80)),
      "tub-1 is in b already\n");
}

TEST(ShowRaw, TheAnswerAsItCameIndented) {
  EXPECT_EQ(*show_raw(R"({"b":1,"a":[87.2]})"), "{\n  \"b\": 1,\n  \"a\": [\n    87.2\n  ]\n}\n");
  EXPECT_FALSE(show_raw("{").ok());
}

}  // namespace
