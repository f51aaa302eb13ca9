// The alert desk inside the warden: what reaches the record and the channels, what a restart keeps,
// and the answers to the grower's verbs.
#include <gtest/gtest.h>

#include <algorithm>
#include <map>

#include "base/text.hpp"
#include "fakes.hpp"

namespace tubwarden {
namespace {

using fakes::Rig;
using nlohmann::json;

Loaded with_phone(std::vector<ChannelPlan> more = {}) {
  Loaded l = Rig::loaded("fruiting");
  l.site->channels = {{"phone", "program", "{}", {}}};
  for (ChannelPlan& channel : more) l.site->channels.push_back(std::move(channel));
  return l;
}

void begin(Rig& r, const Loaded& l) {
  r.adopt(l);
  r.up();
}

json alert(Rig& r, const std::string& key) {
  for (const json& a : json(r.ask("alerts", json::object())->json["alerts"])) {
    if (a["key"] == key) return a;
  }
  return nullptr;
}

const std::string kUnconfirmed = "tub-1.phase_unconfirmed";

/// Of that alert: without readings the sensor becomes stale, too.
std::vector<Notice> of_unconfirmed(const Rig& r) {
  std::vector<Notice> found;
  for (const Notice& n : r.channels.notices) {
    if (n.title.find("phase unconfirmed") != std::string::npos) found.push_back(n);
  }
  return found;
}

TEST(WardenAlerts, an_alert_has_a_state_words_and_a_number) {
  Rig r;
  begin(r, with_phone());
  const json a = alert(r, kUnconfirmed);
  ASSERT_TRUE(a.is_object());
  EXPECT_EQ(a["place"], "tub-1");
  EXPECT_EQ(a["cause"], "phase_unconfirmed");
  EXPECT_EQ(a["rank"], "today");
  EXPECT_EQ(a["state"], "unseen");
  EXPECT_GE(a["number"], 1);
  EXPECT_TRUE(a["since"].is_string());
  for (const char* words : {"text", "means", "do", "have"}) {
    EXPECT_FALSE(a[words].get<std::string>().empty()) << words;
  }
  for (const char* none : {"covered_by", "quiet_until", "off_since"}) {
    EXPECT_TRUE(a[none].is_null()) << none;
  }
}

TEST(WardenAlerts, the_message_is_written_with_the_alert_s_entry_and_once_to_each_channel) {
  Rig r;
  begin(r, with_phone({{"mail", "email", "{}", {AlertRank::now}}}));
  const auto written = r.record.all<NoticeWritten>();
  ASSERT_EQ(written.size(), 1U) << "the mail wants rank now only";
  EXPECT_EQ(written[0].channel, "phone");
  EXPECT_EQ(written[0].state, "raised");
  ASSERT_EQ(r.channels.notices.size(), 1U);
  EXPECT_EQ(r.channels.notices[0].key, written[0].key);
  EXPECT_EQ(r.channels.notices[0].to, std::vector<std::string>{"phone"});
  r.warden.channel_report({"phone", written[0].key, Delivery::Outcome::delivered, ""});
  ASSERT_EQ(r.record.notices_done.size(), 1U);
  EXPECT_TRUE(r.record.notices_done[0].delivered);
}

TEST(WardenAlerts, seen_is_an_entry_with_who_and_reaches_the_channel) {
  Rig r;
  begin(r, with_phone());
  r.channels.notices.clear();
  const auto answer = r.ask("alert_seen", {{"key", kUnconfirmed}});
  ASSERT_FALSE(answer->error) << answer->error->text;
  EXPECT_TRUE(answer->json["entry"].is_number());
  EXPECT_EQ(alert(r, kUnconfirmed)["state"], "seen");
  const auto acts = r.record.all<AlertActed>();
  ASSERT_EQ(acts.size(), 1U);
  EXPECT_EQ(acts[0].verb, AlertVerb::seen);
  ASSERT_EQ(r.channels.notices.size(), 1U);
  EXPECT_EQ(r.channels.notices[0].state, NoticeState::seen);
  EXPECT_EQ(r.channels.notices[0].title, "seen by grower: tub-1: phase unconfirmed");
  for (const Entry& e : r.record.entries) {
    if (std::holds_alternative<AlertActed>(e.body)) {
      EXPECT_EQ(e.who, "grower");
    }
  }
}

TEST(WardenAlerts, seen_without_a_word_means_the_only_one) {
  Rig r;
  begin(r, with_phone());
  EXPECT_FALSE(r.ask("alert_seen", json::object())->error);
  EXPECT_EQ(alert(r, kUnconfirmed)["state"], "seen");
}

TEST(WardenAlerts, quiet_has_an_end_and_is_told_anew_behind_it) {
  Rig r;
  begin(r, with_phone());
  ASSERT_FALSE(r.ask("alert_quiet", {{"key", "1"}, {"for", "2h"}})->error);
  EXPECT_EQ(alert(r, kUnconfirmed)["state"], "quiet");
  EXPECT_TRUE(alert(r, kUnconfirmed)["quiet_until"].is_string());
  r.channels.notices.clear();
  r.pass(hours(1));
  EXPECT_TRUE(of_unconfirmed(r).empty());
  r.pass(hours(1) + seconds(1));
  EXPECT_EQ(of_unconfirmed(r).size(), 1U);
  EXPECT_EQ(alert(r, kUnconfirmed)["state"], "unseen");
}

TEST(WardenAlerts, quiet_takes_a_time_to_come_and_seconds) {
  Rig r;
  begin(r, with_phone());
  const std::string until = "2026-09-21T20:00:00Z";
  r.clock.wall_at = *parse_rfc3339("2026-09-21T18:00:00Z");
  ASSERT_FALSE(r.ask("alert_quiet", {{"key", kUnconfirmed}, {"until", until}})->error);
  EXPECT_EQ(r.record.all<AlertActed>().back().until, parse_rfc3339(until));
  ASSERT_FALSE(r.ask("alert_quiet", {{"key", kUnconfirmed}, {"for_s", 3600}})->error);
  for (const json& wrong :
       {json{{"key", kUnconfirmed}}, json{{"key", kUnconfirmed}, {"for", "10s"}},
        json{{"key", kUnconfirmed}, {"for", "soon"}}, json{{"key", kUnconfirmed}, {"for_s", -1}},
        json{{"key", kUnconfirmed}, {"until", "2026-09-21T17:00:00Z"}},
        json{{"key", kUnconfirmed}, {"until", "tomorrow"}},
        json{{"key", kUnconfirmed}, {"for_s", 1e300}}}) {
    EXPECT_TRUE(r.ask("alert_quiet", wrong)->error) << wrong.dump();
  }
}

TEST(WardenAlerts, off_needs_a_reason_and_stands_in_status_until_it_is_back) {
  Rig r;
  begin(r, with_phone());
  EXPECT_TRUE(r.ask("alert_off", {{"key", kUnconfirmed}})->error);
  ASSERT_FALSE(
      r.ask("alert_off", {{"key", "tub-1.output_mister"}, {"note", "it is at the bench"}})->error)
      << "one that has not come yet";
  const json off = r.status()["off"];
  ASSERT_EQ(off.size(), 1U);
  EXPECT_EQ(off[0]["note"], "it is at the bench");
  r.channels.notices.clear();
  r.warden.output_report({{"tub-1", "mister"}, OutputHealth::unconfirmed, {}, "no answer"});
  r.pass(hours(30));
  for (const Notice& n : r.channels.notices) EXPECT_EQ(n.title.find("output"), std::string::npos);
  EXPECT_EQ(r.status()["off"].size(), 1U);
  ASSERT_FALSE(r.ask("alert_back", {{"key", "output_mister"}})->error);
  EXPECT_TRUE(r.status()["off"].empty());
  r.pass(seconds(5));
  EXPECT_TRUE(std::any_of(r.channels.notices.begin(), r.channels.notices.end(),
                          [](const Notice& n) { return n.title == "tub-1: output mister"; }));
  EXPECT_TRUE(r.ask("alert_back", {{"key", "output_mister"}})->error);
}

TEST(WardenAlerts, an_alert_nobody_knows_is_refused_with_what_there_is) {
  Rig r;
  begin(r, with_phone());
  for (const char* verb : {"alert_seen", "alert_quiet", "alert_off", "alert_back"}) {
    const auto answer = r.ask(verb, {{"key", "tub-9.nonsense"}, {"for", "2h"}, {"note", "x"}});
    ASSERT_TRUE(answer->error) << verb;
    EXPECT_NE(answer->error->text.find(kUnconfirmed), std::string::npos) << answer->error->text;
  }
}

TEST(WardenAlerts, a_lost_broker_is_one_message_whatever_fails_with_it) {
  Rig r;
  begin(r, with_phone());
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  r.reading("86");
  r.channels.notices.clear();
  r.warden.broker_down("test");
  r.warden.output_report({{"tub-1", "mister"}, OutputHealth::unconfirmed, {}, "no answer"});
  r.pass(minutes(3));
  ASSERT_EQ(r.channels.notices.size(), 1U);
  EXPECT_EQ(r.channels.notices[0].title, "site: broker lost");
  EXPECT_EQ(alert(r, "tub-1.output_mister")["covered_by"], "site.broker_lost");
}

TEST(WardenAlerts, a_second_channel_hears_of_it_after_its_minutes) {
  Rig r;
  ChannelPlan neighbour{"neighbour", "program", "{}", {}, minutes(20), {}};
  begin(r, with_phone({neighbour}));
  r.channels.notices.clear();
  r.pass(minutes(21));
  const auto told = of_unconfirmed(r);
  ASSERT_EQ(told.size(), 1U);
  EXPECT_EQ(told[0].to, std::vector<std::string>{"neighbour"});
  EXPECT_NE(told[0].text.find("Nobody has seen it yet"), std::string::npos);
}

TEST(WardenAlerts, quiet_hours_hold_back_and_tell_in_the_morning) {
  Rig r;
  Loaded l = with_phone();
  l.site->alerts.quiet_from_minute = 22 * 60;
  l.site->alerts.quiet_to_minute = 7 * 60;
  l.site->alerts.held = {AlertRank::today, AlertRank::noted};
  r.clock.second_of_day = 23 * 3600;
  begin(r, l);
  EXPECT_TRUE(r.channels.notices.empty());
  EXPECT_EQ(alert(r, kUnconfirmed)["held"], true);
  r.pass(hours(8) - seconds(10));
  EXPECT_TRUE(of_unconfirmed(r).empty());
  r.clock.second_of_day = 7 * 3600;
  r.pass(seconds(20));
  EXPECT_EQ(of_unconfirmed(r).size(), 1U);
}

/// A second warden on what the first left in its record.
void restart(const Rig& before, Rig& r, const Loaded& l) {
  std::map<AlertKey, AlertKept> desk;
  for (const AlertKept& row : before.record.all<AlertKept>()) desk[{row.place, row.cause}] = row;
  std::vector<AlertKept> rows;
  for (auto& [key, row] : desk) {
    if (!row.words.empty()) rows.push_back(row);
  }
  std::vector<AlertNoted> left;
  for (const AlertKept& row : rows) left.push_back({row.place, row.cause, true, ""});
  std::vector<NoticeWritten> outbox = before.record.all<NoticeWritten>();
  std::erase_if(outbox, [&](const NoticeWritten& n) {
    return std::any_of(before.record.notices_done.begin(), before.record.notices_done.end(),
                       [&](const NoticeDone& d) { return d.key == n.key; });
  });
  r.clock.at = before.clock.at + seconds(30);
  r.clock.wall_at = before.clock.wall_at + milliseconds(30'000);
  r.warden.remember_desk(rows);
  r.warden.remember_alerts(left);
  r.warden.remember_outbox(outbox);
  begin(r, l);
}

TEST(WardenAlerts, a_restart_keeps_what_was_seen_and_tells_nothing_twice) {
  Rig before;
  begin(before, with_phone());
  before.ask("alert_seen", {{"key", kUnconfirmed}});
  for (const NoticeWritten& n : before.record.all<NoticeWritten>()) {
    before.warden.channel_report({n.channel, n.key, Delivery::Outcome::delivered, ""});
  }
  Rig r;
  restart(before, r, with_phone());
  EXPECT_EQ(alert(r, kUnconfirmed)["state"], "seen");
  EXPECT_EQ(alert(r, kUnconfirmed)["number"], 1);
  EXPECT_TRUE(r.channels.notices.empty());
  EXPECT_TRUE(r.record.all<AlertNoted>().empty()) << "it stood and stands";
}

TEST(WardenAlerts, what_was_not_delivered_is_delivered_after_a_restart_by_the_same_key) {
  Rig before;
  begin(before, with_phone());
  const std::string key = before.record.all<NoticeWritten>()[0].key;
  Rig r;
  restart(before, r, with_phone());
  ASSERT_EQ(r.channels.notices.size(), 1U);
  EXPECT_EQ(r.channels.notices[0].key, key);
  EXPECT_GE(r.channels.notices[0].age, seconds(29));
}

TEST(WardenAlerts, what_is_off_stays_off_over_a_restart) {
  Rig before;
  begin(before, with_phone());
  before.ask("alert_off", {{"key", kUnconfirmed}, {"note", "asked for at the weekend"}});
  Rig r;
  restart(before, r, with_phone());
  ASSERT_EQ(r.status()["off"].size(), 1U);
  EXPECT_EQ(r.status()["off"][0]["note"], "asked for at the weekend");
}

TEST(WardenAlerts, what_is_judged_and_over_after_a_restart_is_told_so_at_once) {
  Rig before;
  begin(before, with_phone());
  before.warden.broker_down("test");
  before.pass(seconds(10));
  Rig r;
  restart(before, r, with_phone());  // its broker is up
  EXPECT_TRUE(std::any_of(r.channels.notices.begin(), r.channels.notices.end(),
                          [](const Notice& n) { return n.title == "over: site: broker lost"; }));
}

TEST(WardenAlerts, a_failing_channel_is_told_on_the_others_only) {
  Rig r;
  begin(r, with_phone({{"mail", "email", "{}", {}}}));
  r.channels.notices.clear();
  r.warden.channel_report({"mail", "k", Delivery::Outcome::failing, "no network"});
  ASSERT_EQ(r.channels.notices.size(), 1U);
  EXPECT_EQ(r.channels.notices[0].to, std::vector<std::string>{"phone"});
  r.warden.channel_report({"mail", "k", Delivery::Outcome::given_up, "no network"});
  EXPECT_EQ(r.channels.notices.size(), 1U) << "it is the same failure";
  EXPECT_FALSE(r.record.notices_done.back().delivered);
}

TEST(WardenAlerts, a_heartbeat_comes_out_of_the_turn_and_hears_nothing_else) {
  Rig r;
  begin(r, with_phone({{"watch", "webhook", "{}", {}, {}, minutes(5)}}));
  r.channels.notices.clear();
  r.pass(minutes(11));
  int beats = 0;
  for (const Notice& n : r.channels.notices) {
    if (n.state != NoticeState::alive) continue;
    ++beats;
    EXPECT_TRUE(n.fleeting);
    EXPECT_EQ(n.to, std::vector<std::string>{"watch"});
  }
  EXPECT_EQ(beats, 3) << "at once, and then each five minutes";
  for (const NoticeWritten& n : r.record.all<NoticeWritten>()) EXPECT_NE(n.channel, "watch");
}

TEST(WardenAlerts, a_test_is_answered_when_every_channel_has_said_how_it_went) {
  Rig r;
  begin(r, with_phone({{"mail", "email", "{}", {}}}));
  r.channels.notices.clear();
  const auto answer = r.ask("alert_test", json::object());
  EXPECT_FALSE(answer->came);
  ASSERT_EQ(r.channels.notices.size(), 1U);
  const std::string key = r.channels.notices[0].key;
  r.warden.channel_report({"phone", key, Delivery::Outcome::delivered, ""});
  r.warden.channel_report({"mail", key, Delivery::Outcome::given_up, "wrong password"});
  ASSERT_TRUE(answer->came);
  EXPECT_EQ(answer->json["text"], "1 of 2 delivered");
  const auto late = r.ask("alert_test", {{"channel", "phone"}});
  r.pass(seconds(21));
  EXPECT_TRUE(late->came);
  EXPECT_TRUE(r.ask("alert_test", {{"channel", "fax"}})->error);
}

}  // namespace
}  // namespace tubwarden
