// The cycle of every alert: each state by each event, and what is told of it.
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "core/alert/desk.hpp"

namespace tubwarden {
namespace {

using Kind = Telling::Kind;
using Told = std::vector<std::string>;

constexpr Instant kZero{hours(100)};
const AlertKey kDry{"tub-1", "humidity_low"};

struct Bench {
  AlertDesk desk;
  Instant now = kZero;
  std::optional<int> second = 12 * 3600;
  DeskEffects last;

  Bench() {
    DeskRules rules;
    rules.channels = {{"phone", {}, {}}};
    desk.rules(rules);
  }
  void step(const DeskEvent& event) { last = desk.step(event, {now, second}); }
  void pass(Duration d) {
    now += d;
    if (second) second = static_cast<int>((*second + duration_cast<seconds>(d).count()) % 86400);
    step(desk::Time{});
  }
  Alert alert(const AlertKey& key, AlertRank rank = AlertRank::today) const {
    return {key, rank, key.place + ": " + key.cause, now};
  }
  void raise(const AlertKey& key = kDry, AlertRank rank = AlertRank::today) {
    step(desk::Raised{alert(key, rank)});
  }
  void end(const AlertKey& key = kDry) { step(desk::Returned{alert(key)}); }
  void quiet(Duration d) { step(desk::QuietUntil{alert(kDry), now + d}); }
  void off(const std::string& note = "the mister is at the bench") {
    step(desk::Off{alert(kDry), note});
  }
  /// "raised phone", "over phone tablet": what the last step told, to whom.
  Told told() const {
    static const char* kNames[] = {"raised", "again", "second", "over", "seen", "flood", "morning"};
    Told all;
    for (const Telling& t : last.tellings) {
      std::string one = kNames[static_cast<int>(t.kind)];
      for (const std::string& channel : t.channels) one += " " + channel;
      all.push_back(one);
    }
    return all;
  }
  std::string state(const AlertKey& key = kDry) const {
    const DeskAlert* a = desk.find(key);
    return a ? std::string(name_of(a->state())) : "normal";
  }
};

/// The bench with kDry in a state, and nothing told by the last step.
Bench in(const std::string& state) {
  Bench b;
  if (state == "unseen" || state == "seen" || state == "over_unseen") b.raise();
  if (state == "seen") b.step(desk::Seen{kDry});
  if (state == "over_unseen") b.end();
  if (state == "quiet") b.quiet(hours(2));
  if (state == "quiet active") {
    b.raise();
    b.quiet(hours(2));
  }
  if (state == "off") b.off();
  if (state == "off active") {
    b.raise();
    b.off();
  }
  b.now += minutes(1);
  return b;
}

struct Row {
  const char* from;
  const char* event;
  const char* to;
  Told told;
  bool refused = false;
};

const Row kCycle[] = {
    {"normal", "raised", "unseen", {"raised phone"}},
    {"normal", "returned", "normal", {}},
    {"normal", "seen", "normal", {}, true},
    {"normal", "quiet", "quiet", {}},
    {"normal", "off", "off", {}},
    {"normal", "back", "normal", {}, true},
    {"unseen", "raised", "unseen", {}},
    {"unseen", "returned", "over_unseen", {"over phone"}},
    {"unseen", "seen", "seen", {"seen phone"}},
    {"unseen", "quiet", "quiet", {}},
    {"unseen", "off", "off", {}},
    {"unseen", "back", "unseen", {}, true},
    {"seen", "raised", "seen", {}},
    {"seen", "returned", "normal", {"over phone"}},
    {"seen", "seen", "seen", {}},
    {"seen", "quiet", "quiet", {}},
    {"seen", "off", "off", {}},
    {"seen", "back", "seen", {}, true},
    {"over_unseen", "raised", "unseen", {"raised phone"}},
    {"over_unseen", "returned", "over_unseen", {}},
    {"over_unseen", "seen", "normal", {}},
    {"over_unseen", "quiet", "quiet", {}},
    {"over_unseen", "off", "off", {}},
    {"over_unseen", "back", "over_unseen", {}, true},
    {"quiet", "raised", "quiet", {}},
    {"quiet", "returned", "quiet", {}},
    {"quiet", "seen", "quiet", {}},
    {"quiet", "quiet", "quiet", {}},
    {"quiet", "off", "off", {}},
    {"quiet", "back", "normal", {}},
    {"quiet", "its end", "normal", {}},
    {"quiet active", "raised", "quiet", {}},
    {"quiet active", "returned", "quiet", {}},
    {"quiet active", "off", "off", {}},
    {"quiet active", "back", "unseen", {"again phone"}},
    {"quiet active", "its end", "unseen", {"again phone"}},
    {"off", "raised", "off", {}},
    {"off", "returned", "off", {}},
    {"off", "seen", "off", {}},
    {"off", "quiet", "quiet", {}},
    {"off", "back", "normal", {}},
    {"off", "its end", "off", {}},
    {"off active", "returned", "off", {}},
    {"off active", "quiet", "quiet", {}},
    {"off active", "back", "unseen", {"again phone"}},
    {"off active", "its end", "off", {}},
};

TEST(AlertDesk, every_state_by_every_event) {
  for (const Row& row : kCycle) {
    SCOPED_TRACE(std::string(row.from) + ", " + row.event);
    Bench b = in(row.from);
    const std::string event = row.event;
    if (event == "raised") b.raise();
    if (event == "returned") b.end();
    if (event == "seen") b.step(desk::Seen{kDry});
    if (event == "quiet") b.quiet(hours(1));
    if (event == "off") b.off();
    if (event == "back") b.step(desk::Back{kDry});
    if (event == "its end") b.pass(hours(2));
    EXPECT_EQ(b.state(), row.to);
    EXPECT_EQ(b.told(), row.told);
    EXPECT_EQ(b.last.refused, row.refused);
  }
}

TEST(AlertDesk, is_told_again_until_somebody_has_seen_it) {
  Bench b;
  b.raise();
  EXPECT_EQ(b.desk.due(), kZero + hours(4));
  b.pass(hours(4) - seconds(1));
  EXPECT_EQ(b.told(), Told{});
  b.pass(seconds(1));
  EXPECT_EQ(b.told(), Told{"again phone"});
  const std::string first = b.last.tellings[0].key;
  b.pass(hours(4));
  EXPECT_EQ(b.told(), Told{"again phone"});
  EXPECT_NE(b.last.tellings[0].key, first);
  b.step(desk::Seen{kDry});
  b.pass(hours(24));
  EXPECT_EQ(b.told(), Told{});
}

TEST(AlertDesk, what_is_only_noted_is_not_told_again) {
  Bench b;
  b.raise(kDry, AlertRank::noted);
  EXPECT_EQ(b.told(), Told{"raised phone"});
  b.pass(hours(24));
  EXPECT_EQ(b.told(), Told{});
}

TEST(AlertDesk, a_second_channel_hears_of_what_stays_unseen) {
  Bench b;
  DeskRules rules;
  rules.channels = {{"phone", {}, {}}, {"neighbour", {AlertRank::now}, minutes(20)}};
  b.desk.rules(rules);
  b.raise(kDry, AlertRank::now);
  b.raise({"tub-2", "co2_high"}, AlertRank::today);
  b.pass(minutes(20) - seconds(1));
  EXPECT_EQ(b.told(), Told{});
  b.pass(seconds(1));
  EXPECT_EQ(b.told(), Told{"second neighbour"});
  EXPECT_EQ(b.last.tellings[0].alerts[0].key, kDry);
  b.pass(minutes(20));
  EXPECT_EQ(b.told(), Told{}) << "once";
  b.end();
  EXPECT_EQ(b.told(), Told{"over neighbour phone"});
}

TEST(AlertDesk, a_second_channel_hears_nothing_of_what_was_seen_in_time) {
  Bench b;
  DeskRules rules;
  rules.channels = {{"phone", {}, {}}, {"neighbour", {}, minutes(20)}};
  b.desk.rules(rules);
  b.raise();
  b.step(desk::Seen{kDry});
  b.pass(hours(1));
  EXPECT_EQ(b.told(), Told{});
  b.end();
  EXPECT_EQ(b.told(), Told{"over phone"});
}

TEST(AlertDesk, a_channel_is_not_told_that_it_fails_itself) {
  Bench b;
  DeskRules rules;
  rules.channels = {{"mail", {}, {}}, {"phone", {}, {}}};
  b.desk.rules(rules);
  b.raise({"site", "channel_mail"});
  EXPECT_EQ(b.told(), Told{"raised phone"});
}

Bench at_night() {
  Bench b;
  DeskRules rules;
  rules.channels = {{"phone", {}, {}}};
  rules.quiet_from_s = 22 * 3600;
  rules.quiet_to_s = 7 * 3600;
  rules.held = {AlertRank::today, AlertRank::noted};
  b.desk.rules(rules);
  b.second = 23 * 3600;
  return b;
}

TEST(AlertDesk, quiet_hours_hold_ranks_until_the_morning_and_tell_them_in_one) {
  Bench b = at_night();
  b.raise();
  EXPECT_EQ(b.told(), Told{});
  EXPECT_EQ(b.desk.due(), kZero + hours(8));
  b.raise({"tub-2", "co2_high"});
  b.raise({"tub-2", "substrate_ceiling"}, AlertRank::now);
  EXPECT_EQ(b.told(), Told{"raised phone"}) << "now is not held";
  b.step(desk::Seen{{"tub-2", "substrate_ceiling"}});
  b.pass(hours(8));
  ASSERT_EQ(b.told(), Told{"morning phone"});
  EXPECT_EQ(b.last.tellings[0].alerts.size(), 2U);
  b.pass(hours(1));
  EXPECT_EQ(b.told(), Told{});
}

TEST(AlertDesk, one_that_is_over_by_the_morning_is_told_there_too) {
  Bench b = at_night();
  b.raise();
  b.pass(hours(1));
  b.end();
  EXPECT_EQ(b.told(), Told{}) << "nobody knows of it";
  EXPECT_EQ(b.state(), "over_unseen");
  b.pass(hours(7));
  EXPECT_EQ(b.told(), Told{"raised phone"}) << "a single one is told as ever";
  EXPECT_EQ(b.state(), "over_unseen");
  b.step(desk::Seen{kDry});
  EXPECT_EQ(b.state(), "normal");
}

TEST(AlertDesk, one_seen_on_the_list_at_night_is_not_told_in_the_morning) {
  Bench b = at_night();
  b.raise();
  b.step(desk::Seen{kDry});
  b.pass(hours(8));
  EXPECT_EQ(b.told(), Told{});
  EXPECT_EQ(b.state(), "seen");
}

TEST(AlertDesk, what_is_unseen_at_night_is_told_again_in_the_morning) {
  Bench b = at_night();
  b.second = 21 * 3600;
  b.raise();
  EXPECT_EQ(b.told(), Told{"raised phone"});
  b.pass(hours(4));
  EXPECT_EQ(b.told(), Told{});
  b.pass(hours(6));
  EXPECT_EQ(b.told(), Told{"again phone"});
}

TEST(AlertDesk, an_unset_clock_has_no_quiet_hours) {
  Bench b = at_night();
  b.second.reset();
  b.raise();
  EXPECT_EQ(b.told(), Told{"raised phone"});
}

TEST(AlertDesk, what_is_over_and_never_seen_leaves_the_list_after_days) {
  Bench b = in("over_unseen");
  b.pass(kOverKept - minutes(2));
  EXPECT_EQ(b.state(), "over_unseen");
  b.pass(minutes(2));
  EXPECT_EQ(b.state(), "normal");
}

TEST(AlertDesk, seen_all_is_one_message) {
  Bench b;
  b.raise();
  b.raise({"tub-2", "co2_high"});
  b.step(desk::SeenAll{});
  EXPECT_EQ(b.told(), Told{"seen phone"});
  EXPECT_EQ(b.last.tellings[0].alerts.size(), 2U);
  EXPECT_EQ(b.state(), "seen");
  b.now += seconds(1);
  b.step(desk::SeenAll{});
  EXPECT_TRUE(b.last.refused) << "nothing is left to see";
}

TEST(AlertDesk, an_end_in_the_past_is_refused) {
  Bench b = in("unseen");
  b.quiet(Duration{0});
  EXPECT_TRUE(b.last.refused);
  EXPECT_EQ(b.state(), "unseen");
}

TEST(AlertDesk, is_named_by_number_key_or_a_part_that_only_one_has) {
  Bench b;
  b.raise();
  b.raise({"tub-2", "humidity_low"});
  b.raise({"tub-2", "co2_high"});
  EXPECT_EQ(b.desk.named("1"), kDry);
  EXPECT_EQ(b.desk.named("tub-1.humidity_low"), kDry);
  EXPECT_EQ(b.desk.named("tub-1/humidity_low"), kDry);
  EXPECT_EQ(b.desk.named("co2"), (AlertKey{"tub-2", "co2_high"}));
  EXPECT_FALSE(b.desk.named("humidity")) << "two have it";
  EXPECT_FALSE(b.desk.named("4"));
  EXPECT_FALSE(b.desk.named(""));
  b.step(desk::Seen{kDry});
  b.end();
  b.now += minutes(1);
  b.raise();
  EXPECT_EQ(b.desk.find(kDry)->number, 4) << "a number does not soon mean another";
}

TEST(AlertDesk, goes_on_after_a_start_with_what_comes_again) {
  Bench before = in("seen");
  DeskAlert kept = *before.desk.find(kDry);
  kept.must_come_by = kZero + kComesAgainWithin;
  Bench b;
  b.desk.restore(kept);
  b.raise();
  EXPECT_EQ(b.told(), Told{});
  EXPECT_EQ(b.state(), "seen");
  b.pass(hours(1));
  EXPECT_TRUE(b.last.taken_back.empty());
}

TEST(AlertDesk, takes_back_what_does_not_come_again_after_a_start) {
  Bench before = in("unseen");
  DeskAlert kept = *before.desk.find(kDry);
  kept.must_come_by = kZero + kComesAgainWithin;
  Bench b;
  b.desk.restore(kept);
  b.step(desk::Time{});
  EXPECT_EQ(b.desk.due(), kZero + kComesAgainWithin);
  b.pass(kComesAgainWithin);
  EXPECT_EQ(b.last.taken_back, std::vector<AlertKey>{kDry});
  b.end();
  EXPECT_EQ(b.told(), Told{"over phone"});
}

TEST(AlertDesk, has_a_limit_and_counts_what_finds_no_place) {
  Bench b;
  for (std::size_t i = 0; i <= kDeskMax; ++i) b.raise({"tub-" + std::to_string(i), "co2_high"});
  EXPECT_EQ(b.desk.alerts().size(), kDeskMax);
  EXPECT_EQ(b.desk.dropped(), 1U);
}

}  // namespace
}  // namespace tubwarden
