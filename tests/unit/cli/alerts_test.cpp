// The words and the pages of alerts.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"
#include "programs/cli/words.hpp"
#include "samples.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using testing::HasSubstr;
using testing::Not;

Command said_of_alerts(const std::vector<std::string>& words) {
  Defaults defaults{"/run/default.sock", "/lib/plugins", "/bin/host"};
  defaults.now = *parse_rfc3339("2026-11-25T12:00:00Z");
  return understand(words, defaults);
}

struct AlertWordsRow {
  std::vector<std::string> words;
  std::string what, args;
  Shown (*show)(const std::string&, const Look&);
};

TEST(WordsAlerts, EachAsksItsQuestion) {
  const std::vector<AlertWordsRow> rows = {
      {{"alerts", "seen"}, "alert_seen", R"({"key":""})", show_done},
      {{"alerts", "seen", "all"}, "alert_seen", R"({"key":"all"})", show_done},
      {{"alerts", "seen", "3"}, "alert_seen", R"({"key":"3"})", show_done},
      {{"alerts", "quiet", "3", "2h"}, "alert_quiet", R"({"key":"3","for":"2h"})", show_done},
      {{"alerts", "quiet", "3", "1d", "6h"},
       "alert_quiet",
       R"({"key":"3","for":"1d 6h"})",
       show_done},
      {{"alerts", "quiet", "3", "until", "11:00"},
       "alert_quiet",
       R"({"key":"3","until":"2026-11-26T11:00:00.000Z"})",
       show_done},
      {{"alerts", "quiet", "3", "until", "2026-11-27 07:00"},
       "alert_quiet",
       R"({"key":"3","until":"2026-11-27T07:00:00.000Z"})",
       show_done},
      {{"alerts", "off", "mister", "--note", "at the bench"},
       "alert_off",
       R"({"key":"mister","note":"at the bench"})",
       show_done},
      {{"alerts", "back", "3"}, "alert_back", R"({"key":"3"})", show_done},
      {{"alerts", "history"}, "alert_history", R"({"days":7.0})", show_alert_history},
      {{"alerts", "worst", "--last", "12h"}, "alert_worst", R"({"days":0.5})", show_alert_worst},
      {{"alerts", "test"}, "alert_test", R"({"channel":""})", show_alert_test},
      {{"alerts", "test", "phone"}, "alert_test", R"({"channel":"phone"})", show_alert_test},
  };
  for (const AlertWordsRow& row : rows) {
    const Command command = said_of_alerts(row.words);
    const Ask* ask = std::get_if<Ask>(&command.wanted);
    ASSERT_TRUE(ask) << row.words[1] << ": "
                     << (std::get_if<Told>(&command.wanted) ? std::get<Told>(command.wanted).text
                                                            : "");
    EXPECT_EQ(ask->what, row.what);
    EXPECT_EQ(ask->args_json, row.args);
    EXPECT_EQ(ask->show, row.show);
  }
}

TEST(WordsAlerts, WrongOnesSayWhatIsAllowed) {
  const auto wrong = [](const std::vector<std::string>& words) {
    const Command command = said_of_alerts(words);
    const Told* told = std::get_if<Told>(&command.wanted);
    return told && told->status == 2 ? told->text : "";
  };
  EXPECT_THAT(wrong({"alerts", "sen", "3"}), HasSubstr("seen"));
  EXPECT_THAT(wrong({"alerts", "quiet", "3"}), HasSubstr("TIME"));
  EXPECT_THAT(wrong({"alerts", "quiet", "3", "until", "2026-11-20 07:00"}), HasSubstr("is over"));
  EXPECT_THAT(wrong({"alerts", "quiet", "3", "until"}), Not(testing::IsEmpty()));
  EXPECT_THAT(wrong({"alerts", "off", "3"}), HasSubstr("--note"));
  EXPECT_THAT(wrong({"alerts", "history", "--last", "soon"}), HasSubstr("--last"));
}

constexpr const char* kList = R"({"alerts":[
 {"number":2,"key":"tub-1.humidity_leaving","place":"tub-1","cause":"humidity_leaving",
  "rank":"today","state":"unseen","since_s":500,"text":"tub-1: humidity falls.",
  "means":"M","do":"D","have":"H","covered_by":"tub-1.sensor_air_stale"},
 {"number":1,"key":"tub-1.sensor_air_stale","place":"tub-1","cause":"sensor_air_stale",
  "rank":"now","state":"unseen","since_s":480,"text":"tub-1: sensor air says nothing.",
  "means":"Nobody knows.","do":"Look at it.","have":"An hour.","covered_by":null},
 {"number":3,"key":"tub-2.co2_high","place":"tub-2","cause":"co2_high","rank":"noted",
  "state":"quiet","quiet_left_s":3600,"since_s":10,"text":"tub-2: stuffy.","covered_by":null},
 {"number":4,"key":"tub-2.output_fan","place":"tub-2","cause":"output_fan","rank":"now",
  "state":"off","since_s":90000,"text":"fan: no answer.","note":"at the bench","covered_by":null},
 {"number":5,"key":"site.broker_lost","place":"site","cause":"broker_lost","rank":"now",
  "state":"over_unseen","since_s":60,"text":"The broker was away.","covered_by":null}],
 "flood":true,"channels":[
 {"id":"phone","waiting":2,"delivered":1,"given_up":0,"failures":4,"why":"no network",
  "next_try_s":8}, {"id":"mail","waiting":0,"given_up":0}]})";

TEST(ShowAlerts, SaysStateRootNoteAndWhatToDo) {
  const std::string page = *show_alerts(kList, Look{100, false, true});
  const auto lines = cli_test::lines_of(page);
  EXPECT_EQ(lines[0], "  1  now    unseen    8m  tub-1: sensor air says nothing.");
  EXPECT_EQ(lines[1], "                          Nobody knows.");
  EXPECT_EQ(lines[2], "                          do: Look at it.");
  EXPECT_EQ(lines[3], "                          time: An hour.");
  EXPECT_THAT(page, HasSubstr("because of tub-1.sensor_air_stale"));
  EXPECT_THAT(page, Not(HasSubstr("do: D"))) << "its root says what to do";
  EXPECT_THAT(page, HasSubstr("  3  noted  quiet 1h"));
  EXPECT_THAT(page, HasSubstr("off: at the bench"));
  EXPECT_THAT(page, HasSubstr("  5  now    over "));
  EXPECT_THAT(page, HasSubstr("Many come at once"));
  EXPECT_THAT(page, HasSubstr("channel phone: 2 messages wait (no network); tried again in 8s"));
  EXPECT_THAT(page, Not(HasSubstr("channel mail")));
  for (const std::string& line : cli_test::lines_of(*show_alerts(kList, Look{60, false, true}))) {
    EXPECT_LE(columns(line), 60U) << line;
  }
}

TEST(ShowAlerts, ThePastTheWorstAndATest) {
  const Look look{80, false, true};
  const std::string past = *show_alert_history(
      R"({"rows":[{"at":"2026-11-25T10:05:00.000Z","who":"ada","what":"seen",)"
      R"("text":"alert seen: t.c"},)"
      R"({"at":"2026-11-25T10:00:00.000Z","who":"daemon","what":"raised","text":"t: too dry"}]})",
      look);
  EXPECT_EQ(
      past,
      "25 Nov\n  10:00:00 raised    t: too dry\n  10:05:00 seen      alert seen: t.c (ada)\n");
  EXPECT_THAT(
      *show_alert_worst(
          R"({"worst":[{"key":"t.c","raised":12,"last":"2026-11-25T10:00:00.000Z"}]})", look),
      HasSubstr("   12  t.c "));
  EXPECT_THAT(
      *show_alert_test(R"({"channels":[{"channel":"phone","delivered":false,"why":"404"}]})", look),
      HasSubstr("not delivered: 404"));
  EXPECT_FALSE(show_alerts("{}", look).ok());
  EXPECT_EQ(*show_alerts(R"({"alerts":[]})", look), "No alert stands.\n");
  EXPECT_EQ(*show_alert_history(R"({"rows":[]})", look), "No alert came in that time.\n");
}

}  // namespace
