// The history as a page, as CSV and as JSON.
#include "programs/cli/history_page.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "programs/cli/history_export.hpp"
#include "samples.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using cli_test::line_with;
using cli_test::lines_of;
using testing::HasSubstr;
using testing::Not;

WallTime at(const char* text) { return *parse_rfc3339(text); }
Duration utc(WallTime) { return Duration{0}; }

const WallTime kFrom = at("2026-11-24T10:00:00Z");
const WallTime kTo = at("2026-11-24T14:00:00Z");

Stays one_stay() { return {"tub-1", "tub", {{"tub-1", "tub-1", "B-07", kFrom, kTo}}, 0}; }
Stays two_stays() {
  Stays stays = one_stay();
  stays.stays[0].to = kFrom + hours(1);
  stays.stays.push_back({"tub-1", "closet", "B-07", kFrom + hours(1), kTo});
  return stays;
}

HistoryPiece readings() {
  HistoryPiece piece;
  HistoryOf humidity{"air", Quantity::humidity, {}}, co2{"air", Quantity::co2, {}};
  HistoryOf bed{"bed", Quantity::substrate_temperature, {}};
  for (int hour = 0; hour < 4; ++hour) {
    const WallTime t = kFrom + hours(hour);
    humidity.values.push_back({t, 80.0 + hour, 85.0, 90.0 + hour, 10});
    co2.values.push_back({t, 700, 850.4, 10400, 10});
    bed.values.push_back({t, 16, 16.5, 17, 10});
  }
  piece.series = {humidity, bed, co2};
  return piece;
}

std::string page_of(const Stays& stays, const std::vector<HistoryPiece>& pieces, int width = 80) {
  HistoryPage page(stays, kFrom, kTo, hours(1), utc);
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    EXPECT_TRUE(page.take(std::min(i, stays.stays.size() - 1), pieces[i]).ok());
  }
  return page.told(cli_test::look_of(width));
}

HistoryRun run(const char* id, WallTime began, Duration lasted, bool now = false) {
  return {id, 100.0, began, lasted, now};
}

TEST(HistoryPage, ATableOfLeastMeanAndMostFits80Columns) {
  const std::string page = page_of(one_stay(), {readings()});
  EXPECT_EQ(line_with(page, "  10:00 "),
            "  10:00   80.0  85.0  90.0  16.0  16.5  17.0   700   850 10400");
  EXPECT_EQ(line_with(page, "all"),
            "all       80.0  85.0  93.0  16.0  16.5  17.0   700   850 10400");
  EXPECT_THAT(page, HasSubstr("humidity, %"));
  EXPECT_THAT(page, Not(HasSubstr("air, C"))) << "what nothing measures has no column";
  EXPECT_THAT(page, HasSubstr("a line for each 1h"));
  EXPECT_THAT(page, HasSubstr("in its own air, batch B-07"));
  for (const std::string& line : lines_of(page)) EXPECT_LE(columns(line), 80U) << line;
}

TEST(HistoryPage, ANarrowOneStacksItsTables) {
  HistoryPiece piece = readings();
  piece.runs = {run("mister", kFrom, hours(1) + seconds(59), true)};
  const std::string page = page_of(one_stay(), {piece}, 40);
  for (const std::string& line : lines_of(page)) EXPECT_LE(columns(line), 40U) << line;
  EXPECT_EQ(line_with(page, "  10:00 "), "  10:00   80.0  85.0  90.0");
  EXPECT_THAT(page, HasSubstr("  10:00    700   850 10400\n"));
}

TEST(HistoryPage, SeveralSensorsAndPiecesJoinByTheirCounts) {
  HistoryPiece first, second;
  first.series = {{"air", Quantity::humidity, {{kFrom, 80, 81, 82, 1}}},
                  {"lid", Quantity::humidity, {{kFrom + minutes(10), 90, 91, 92, 3}}}};
  second.series = {{"air", Quantity::humidity, {{kFrom + minutes(59), 70, 71, 72, 1}}}};
  // (81 + 3 x 91 + 71) / 5 = 85
  EXPECT_EQ(line_with(page_of(one_stay(), {first, second}), "  10:00 "),
            "  10:00   70.0  85.0  92.0");
}

TEST(HistoryPage, EachStayHasItsTableAndATimeWithoutReadingsIsSaid) {
  HistoryPiece own = readings(), closet;
  for (HistoryOf& of : own.series) of.values.resize(1);
  closet.series = {{"air",
                    Quantity::humidity,
                    {{kFrom + hours(1), 90, 91, 92, 1}, {kFrom + hours(3), 90, 91, 92, 1}}}};
  const std::string page = page_of(two_stays(), {own, closet});
  EXPECT_THAT(page, HasSubstr("in its own air, batch B-07, 24 Nov 10:00 to 24 Nov 11:00"));
  EXPECT_THAT(page, HasSubstr("in closet, batch B-07, 24 Nov 11:00 to 24 Nov 14:00"));
  EXPECT_THAT(page, HasSubstr("nothing was read in between"));
  EXPECT_THAT(page_of(two_stays(), {own}), HasSubstr("nothing was read in that time"));
}

TEST(HistoryPage, RunsAreCountedOnceAndClippedToTheStay) {
  HistoryPiece first, second;
  first.runs = {run("mister", kFrom - minutes(1), minutes(3)),
                run("mister", kFrom + hours(1), minutes(10)),
                run("fan", kTo - minutes(1), minutes(5), true)};
  second.runs = {run("mister", kFrom + hours(1), minutes(10)),
                 run("mister", kTo - minutes(2), seconds(30)),
                 run("fan", kTo - minutes(1) + milliseconds(3), minutes(6), true)};
  const std::string page = page_of(one_stay(), {first, second});
  // 2 min within, 10 min, 30 s: 12.5 of 240 min are 5.2 %.
  EXPECT_EQ(line_with(page, "mister"), "mister       2    12m 30s    5.2 %");
  EXPECT_EQ(line_with(page, "fan"), "fan          1         1m    0.4 %  now");
  EXPECT_THAT(page_of(one_stay(), {readings()}), HasSubstr("No output ran in that time."));
}

TEST(HistoryPage, OutputsOfSeveralAirsAreNamedWithThem) {
  HistoryPiece own, closet;
  own.runs = {run("mister", kFrom, minutes(6))};
  closet.runs = {run("mister", kFrom + hours(2), minutes(18))};
  const std::string page = page_of(two_stays(), {own, closet});
  EXPECT_THAT(line_with(page, "tub-1/mister"), HasSubstr("10.0 %"));
  EXPECT_THAT(line_with(page, "closet/mister"), HasSubstr("10.0 %"));
}

TEST(HistoryPage, TwoTubsInOneAirShareItsRunsAndTime) {
  Stays batch{"B-07",
              "batch",
              {{"tub-1", "closet", "B-07", kFrom, kTo}, {"tub-2", "closet", "B-07", kFrom, kTo}},
              0};
  HistoryPiece piece;
  piece.runs = {run("mister", kFrom, minutes(24))};
  const std::string page = page_of(batch, {piece, piece});
  EXPECT_EQ(line_with(page, "mister"), "mister       1        24m   10.0 %");
  EXPECT_THAT(page, HasSubstr("tub-2 in closet"));
}

TEST(HistoryPage, WhatIsMissingIsSaid) {
  HistoryPiece piece = readings();
  piece.unplaced = 12;
  piece.damaged = 1;
  Stays stays = one_stay();
  stays.untimed = 1;
  const std::string page = page_of(stays, {piece, piece});
  EXPECT_THAT(page, HasSubstr("12 readings of tub-1 were made before the clock was set"));
  EXPECT_THAT(page, HasSubstr("1 parts of the record of tub-1 cannot be read"));
  EXPECT_THAT(page, HasSubstr("1 of its stays have no known time"));
  EXPECT_THAT(page_of(one_stay(), {readings()}), Not(HasSubstr("noted")));
}

TEST(HistoryPage, WhatStoodNowhereIsSaid) {
  HistoryPage page({"tub-1", "tub", {}, 0}, kFrom, kTo, hours(1), utc);
  EXPECT_THAT(page.told(cli_test::look_of(80)), HasSubstr("It stood in no air in that time."));
}

TEST(HistoryPage, ATableTooLongIsRefusedWithTheWayOut) {
  HistoryPage page(one_stay(), kFrom, kTo, seconds(1), utc);
  HistoryPiece piece;
  piece.series = {{"air", Quantity::humidity, {}}};
  for (int i = 0; i < 2001; ++i) {
    piece.series[0].values.push_back({kFrom + seconds(i), 85, 85, 85, 1});
  }
  const Outcome taken = page.take(0, piece);
  ASSERT_FALSE(taken.ok());
  EXPECT_THAT(taken.error().text, HasSubstr("--every"));
}

TEST(HistoryPage, ADayHasAboutTwoDozenLines) {
  EXPECT_EQ(usual_every(hours(1)), minutes(5));
  EXPECT_EQ(usual_every(hours(24)), hours(1));
  EXPECT_EQ(usual_every(hours(25)), hours(1));
  EXPECT_EQ(usual_every(hours(26)), hours(3));
  EXPECT_EQ(usual_every(hours(24 * 7)), hours(12));
  EXPECT_EQ(usual_every(hours(24 * 365)), hours(24));
}

TEST(HistoryExport, CsvHasAHeaderUnitsAndALineForEachMomentOfASensor) {
  HistoryPiece piece;
  piece.series = {
      {"air",
       Quantity::humidity,
       {{kFrom, 85.25, 85.25, 85.25, 1}, {kFrom + seconds(10), 86, 86, 86, 1}}},
      {"air", Quantity::co2, {{kFrom, 840, 840, 840, 1}}},
      {"bed", Quantity::substrate_temperature, {{kFrom + seconds(5), 17.5, 17.5, 17.5, 1}}}};
  EXPECT_EQ(csv_header(false) + csv_rows(one_stay().stays[0], piece, false),
            "time,tub,batch,chamber,sensor,humidity_pct,temperature_c,substrate_c,co2_ppm\r\n"
            "2026-11-24T10:00:00.000Z,tub-1,B-07,tub-1,air,85.25,,,840\r\n"
            "2026-11-24T10:00:05.000Z,tub-1,B-07,tub-1,bed,,,17.5,\r\n"
            "2026-11-24T10:00:10.000Z,tub-1,B-07,tub-1,air,86,,,\r\n");
}

TEST(HistoryExport, CsvByWidthHasThreeColumnsAQuantity) {
  HistoryPiece piece;
  piece.series = {{"air", Quantity::humidity, {{kFrom, 80, 85.5, 90, 360}}}};
  EXPECT_EQ(csv_header(true),
            "time,tub,batch,chamber,sensor,humidity_low_pct,humidity_mean_pct,humidity_high_pct,"
            "temperature_low_c,temperature_mean_c,temperature_high_c,substrate_low_c,"
            "substrate_mean_c,substrate_high_c,co2_low_ppm,co2_mean_ppm,co2_high_ppm\r\n");
  EXPECT_EQ(csv_rows(one_stay().stays[0], piece, true),
            "2026-11-24T10:00:00.000Z,tub-1,B-07,tub-1,air,80,85.5,90,,,,,,,,,\r\n");
}

TEST(HistoryExport, CsvQuotesWhatItHasTo) {
  EXPECT_EQ(csv_field("B-07"), "B-07");
  EXPECT_EQ(csv_field("a,b"), "\"a,b\"");
  EXPECT_EQ(csv_field("the \"big\" one"), "\"the \"\"big\"\" one\"");
  EXPECT_EQ(csv_field("two\nlines"), "\"two\nlines\"");
}

TEST(HistoryExport, JsonHoldsTheStaysTheValuesAndEachRunOnce) {
  HistoryJson answer(two_stays(), kFrom, kTo, hours(1));
  HistoryPiece piece = readings();
  piece.runs = {run("mister", kFrom, minutes(6))};
  piece.unplaced = 3;
  ASSERT_TRUE(answer.take(0, piece).ok());
  ASSERT_TRUE(answer.take(0, piece).ok());
  const auto json = nlohmann::json::parse(answer.told());
  EXPECT_EQ(json["of"], "tub-1");
  EXPECT_EQ(json["every_s"], 3600);
  EXPECT_EQ(json["stays"][1]["chamber"], "closet");
  ASSERT_EQ(json["series"].size(), 3U);
  EXPECT_EQ(json["series"][0]["quantity"], "humidity");
  EXPECT_EQ(json["series"][0]["values"].size(), 8U);
  EXPECT_EQ(json["series"][0]["values"][0]["mean"], 85.0);
  EXPECT_EQ(json["runs"].size(), 1U);
  EXPECT_EQ(json["missing"][0]["unplaced"], 3);
}

}  // namespace
