// The page of a forecast: from looks, by the window, after the fact, and what came of a first pick.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "programs/cli/show.hpp"

namespace tubwarden::cli {
namespace {

using testing::HasSubstr;
using testing::Not;
using Json = nlohmann::ordered_json;

Json span(const char* early, const char* likely, const char* late) {
  const auto noon = [](const char* day) { return std::string(day) + "T12:00:00Z"; };
  return {{"early", noon(early)}, {"likely", noon(likely)}, {"late", noon(late)}};
}

Json jar() {
  return {{"jar", "J-1"},
          {"batch", "B-07"},
          {"missing", nullptr},
          {"basis", "looks"},
          {"basis_text", "from 4 looks"},
          {"shaken", nullptr},
          {"shake_from", span("2026-03-08", "2026-03-09", "2026-03-10")},
          {"shake_to", span("2026-03-09", "2026-03-10", "2026-03-11")},
          {"full", span("2026-03-16", "2026-03-18", "2026-03-22")},
          {"mixed", nullptr},
          {"seen_full", nullptr},
          {"error", nullptr},
          {"temperature_known_pct", 98},
          {"ahead_c", 24.0}};
}

std::string page_of(const Json& jars, const Json& tubs = Json::array(), int more = 0) {
  const Json answer = {{"of", "B-07"}, {"jars", jars}, {"jars_more", more}, {"tubs", tubs}};
  Look look;
  look.width = 120;
  const Shown shown = show_forecast(answer.dump(), look);
  EXPECT_TRUE(shown.ok()) << (shown.ok() ? "" : shown.error().text);
  return shown.ok() ? *shown : "";
}

TEST(ForecastPage, TellsDaysIntervalAndBasis) {
  const std::string page = page_of(Json::array({jar()}));
  EXPECT_THAT(page, HasSubstr("J-1, batch B-07  from 4 looks"));
  EXPECT_THAT(page, HasSubstr("20 % on 9 Mar (8 Mar to 10 Mar), 30 % on 10 Mar"));
  EXPECT_THAT(page, HasSubstr("18 Mar (16 Mar to 22 Mar) in 8 of 10 such jars"));
  EXPECT_THAT(page, HasSubstr("98 % of the time until now; 24 C from now on"));
}

TEST(ForecastPage, ClaimsNoShareForTheProfilesWindow) {
  Json row = jar();
  row["basis"] = "window";
  row["basis_text"] = "the profile's window: fewer than three looks";
  row["shake_from"] = nullptr;
  const std::string page = page_of(Json::array({row}));
  EXPECT_THAT(page, HasSubstr("fewer than three looks"));
  EXPECT_THAT(page, HasSubstr("16 Mar to 22 Mar"));
  EXPECT_THAT(page, Not(HasSubstr("8 of 10")));
  EXPECT_THAT(page, Not(HasSubstr("20 %")));
}

TEST(ForecastPage, TellsTheErrorAfterwards) {
  Json row = jar();
  row["seen_full"] = "2026-03-20T12:00:00Z";
  row["error"] = {{"off_h", 50.0},
                  {"within", true},
                  {"told", row["full"]},
                  {"told_at", "2026-03-12T08:00:00Z"}};
  const std::string page = page_of(Json::array({row}));
  EXPECT_THAT(page, HasSubstr("seen on 20 Mar"));
  EXPECT_THAT(page, HasSubstr("2.1 days later than told, within its interval; told on 12 Mar"));
}

TEST(ForecastPage, NamesTheEveningAndWhatCameOfIt) {
  Json bed = {{"tub", "tub-1"},
              {"batch", "B-07"},
              {"missing", nullptr},
              {"flush", 2},
              {"basis_text", "from pins of 3 mm, caps of 40 mm are picked"},
              {"evening", "2026-05-04T18:00:00Z"},
              {"evening_early", "2026-05-03T18:00:00Z"},
              {"evening_late", "2026-05-05T18:00:00Z"},
              {"size_now_mm", 11.4},
              {"first_pick", nullptr}};
  std::string page = page_of(Json::array(), Json::array({bed}));
  EXPECT_THAT(page, HasSubstr("tub-1, batch B-07, flush 2"));
  EXPECT_THAT(page, HasSubstr("the evening of 4 May (3 May to 5 May)"));
  EXPECT_THAT(page, HasSubstr("some 11 mm"));
  bed["first_pick"] = "2026-05-04T06:00:00Z";
  bed["error"] = {{"off_h", -11.0}, {"within", true}};
  page = page_of(Json::array(), Json::array({bed}));
  EXPECT_THAT(page, HasSubstr("was told for the evening of 4 May"));
  EXPECT_THAT(page, HasSubstr("11 hours earlier than told, within its interval"));
}

TEST(ForecastPage, SaysWhatIsNotThere) {
  Json row = jar();
  row["missing"] = "it is contaminated";
  EXPECT_THAT(page_of(Json::array({row})), HasSubstr("nothing to foresee: it is contaminated"));
  EXPECT_THAT(page_of(Json::array()), HasSubstr("No jar of it stands inoculated"));
  EXPECT_THAT(page_of(Json::array({jar()}), Json::array(), 3),
              HasSubstr("3 jars more; ask for each"));
  EXPECT_FALSE(show_forecast("{}", Look{}).ok());
  EXPECT_TRUE(show_forecast(R"({"jars":[{},7,null],"tubs":[{"first_pick":"x"}]})", Look{}).ok());
}

}  // namespace
}  // namespace tubwarden::cli
