// Alerts on the desk, acts upon them, and messages that wait, over a record that is closed and
// opened again.
#include <gtest/gtest.h>

#include "record_fixture.hpp"

namespace tubwarden {
namespace {

NoticeWritten notice(const std::string& key, const std::string& channel) {
  return {key, channel, "now", "raised", "tub-1: humidity low", "81 % is below 85 %.", {}};
}

struct OutboxTest : RecordTest {
  std::vector<AlertRow> happened(WallTime from) {
    return ask<std::vector<AlertRow>>(
        [&](auto done) { record->alert_rows(from, 10, std::move(done)); });
  }
};

TEST_F(OutboxTest, a_message_waits_until_it_is_done_and_each_is_kept_once) {
  NoticeWritten n = notice("tub-1.humidity_low@7", "phone");
  n.at = at(1);
  append({{at(1), "daemon", AlertNoted{"tub-1", "humidity_low", true, "too dry"}},
          {at(1), "daemon", n},
          {at(1), "daemon", n},
          {at(1), "daemon", notice("tub-1.humidity_low@7", "mail")}});
  reopen();
  auto waiting = record->outbox();
  ASSERT_TRUE(waiting.ok());
  ASSERT_EQ(waiting->size(), 2U);
  EXPECT_EQ((*waiting)[0].key, "tub-1.humidity_low@7");
  EXPECT_EQ((*waiting)[0].channel, "phone");
  EXPECT_EQ((*waiting)[0].text, "81 % is below 85 %.");
  EXPECT_EQ((*waiting)[0].at.boot, at(1).boot);
  record->notice_done({"tub-1.humidity_low@7", "phone", true, ""});
  record->notice_done({"tub-1.humidity_low@7", "mail", false, "no network for a day"});
  reopen();
  EXPECT_TRUE(record->outbox()->empty());
}

TEST_F(OutboxTest, the_desk_is_kept_anew_and_forgotten) {
  append({{at(1), "daemon", AlertKept{"tub-1", "humidity_low", "{\"number\":1}", at(1)}},
          {at(1), "daemon", AlertKept{"site", "broker_lost", "{\"number\":2}", at(1)}}});
  append({{at(2), "daemon", AlertKept{"tub-1", "humidity_low", "{\"number\":3}", at(2)}},
          {at(2), "daemon", AlertKept{"site", "broker_lost", "", at(2)}}});
  reopen();
  const auto desk = record->desk();
  ASSERT_TRUE(desk.ok());
  ASSERT_EQ(desk->size(), 1U);
  EXPECT_EQ((*desk)[0].words, "{\"number\":3}");
  EXPECT_EQ((*desk)[0].at.boot, at(2).boot);
}

TEST_F(OutboxTest, acts_and_changes_are_the_history_of_alerts_and_the_worst_are_counted) {
  for (int i = 1; i <= 3; ++i) {
    append({{at(i), "daemon", AlertNoted{"tub-1", "co2_high", true, "stuffy"}},
            {at(i), "daemon", AlertNoted{"tub-1", "co2_high", false, "fresh"}}});
  }
  append({{at(4), "daemon", AlertNoted{"tub-2", "humidity_low", true, "dry"}},
          {at(5), "ada",
           AlertActed{"tub-2", "humidity_low", AlertVerb::off, {}, "at the bench", "alert off"}}});
  const auto rows = happened(WallTime{});
  ASSERT_EQ(rows.size(), 8U);
  EXPECT_EQ(rows[0].what, "off");
  EXPECT_EQ(rows[0].who, "ada");
  EXPECT_EQ(rows[1].what, "raised");
  EXPECT_EQ(rows[2].what, "returned");
  EXPECT_EQ(happened(at(5).wall).size(), 1U);
  const auto worst = ask<std::vector<AlertCount>>(
      [&](auto done) { record->alert_counts(WallTime{}, 1, std::move(done)); });
  ASSERT_EQ(worst.size(), 1U) << "as many as were asked for";
  EXPECT_EQ(worst[0].cause, "co2_high");
  EXPECT_EQ(worst[0].raised, 3U);
  EXPECT_EQ(worst[0].last.boot, at(3).boot);
}

}  // namespace
}  // namespace tubwarden
