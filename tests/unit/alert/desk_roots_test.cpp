// One root cause one message, floods, and the words of every cause.
#include <gtest/gtest.h>

#include <set>
#include <string>
#include <vector>

#include "core/alert/causes.hpp"
#include "core/alert/desk.hpp"

namespace tubwarden {
namespace {

using Kind = Telling::Kind;
constexpr Instant kZero{hours(100)};
const AlertKey kBroker{"site", "broker_lost"};
const AlertKey kStale{"tub-1", "sensor_air_stale"};

struct Bench {
  AlertDesk desk;
  Instant now = kZero;
  std::vector<Telling> told;

  Bench() {
    DeskRules rules;
    rules.channels = {{"phone", {}, {}}};
    desk.rules(rules);
  }
  void step(const DeskEvent& event) {
    for (Telling& t : desk.step(event, {now, {}}).tellings) told.push_back(std::move(t));
  }
  void pass(Duration d) {
    const Instant end = now + d;
    while (desk.due() && *desk.due() <= end) {
      now = std::max(now, *desk.due());
      step(desk::Time{});
    }
    now = end;
    step(desk::Time{});
  }
  void raise(const AlertKey& key, AlertRank rank = AlertRank::now) {
    step(desk::Raised{{key, rank, key.cause, now}});
  }
  void end(const AlertKey& key) { step(desk::Returned{{key, AlertRank::now, key.cause, now}}); }
  std::optional<AlertKey> because(const AlertKey& key) const {
    const DeskAlert* a = desk.find(key);
    return a ? a->because_of : std::nullopt;
  }
};

TEST(AlertRoots, a_lost_broker_is_one_message_and_its_sensors_are_shown_below_it) {
  Bench b;
  b.raise(kBroker);
  b.raise(kStale);
  b.raise({"tub-2", "output_fan"});
  b.pass(minutes(1));
  ASSERT_EQ(b.told.size(), 1U);
  EXPECT_EQ(b.told[0].alerts[0].key, kBroker);
  EXPECT_EQ(b.because(kStale), kBroker);
  EXPECT_EQ(b.because({"tub-2", "output_fan"}), kBroker);
}

TEST(AlertRoots, a_root_that_comes_a_moment_later_is_waited_for) {
  Bench b;
  b.raise(kStale);
  EXPECT_TRUE(b.told.empty());
  b.pass(seconds(1));
  b.raise(kBroker);
  b.pass(minutes(1));
  ASSERT_EQ(b.told.size(), 1U);
  EXPECT_EQ(b.told[0].alerts[0].key, kBroker);
}

TEST(AlertRoots, a_root_that_is_only_suspected_holds_them_back_until_it_is_sure) {
  Bench b;
  b.step(desk::Suspected{kBroker, true});
  b.raise(kStale);
  b.pass(seconds(5));
  EXPECT_TRUE(b.told.empty());
  b.step(desk::Suspected{kBroker, false});
  b.pass(kAfterRoot);
  ASSERT_EQ(b.told.size(), 1U) << "it was not the broker";
  EXPECT_EQ(b.told[0].alerts[0].key, kStale);
}

TEST(AlertRoots, without_a_root_it_is_told_after_the_wait) {
  Bench b;
  b.raise(kStale);
  b.pass(kRootComesWithin - milliseconds(1));
  EXPECT_TRUE(b.told.empty());
  b.pass(milliseconds(1));
  EXPECT_EQ(b.told.size(), 1U);
}

TEST(AlertRoots, what_stands_after_its_root_has_gone_is_told_for_itself) {
  Bench b;
  b.raise(kBroker);
  b.raise(kStale);
  b.pass(hours(1));
  b.end(kBroker);
  b.told.clear();
  b.pass(kAfterRoot - seconds(1));
  EXPECT_TRUE(b.told.empty());
  b.pass(seconds(1));
  ASSERT_EQ(b.told.size(), 1U);
  EXPECT_EQ(b.told[0].alerts[0].key, kStale);
  EXPECT_EQ(b.told[0].kind, Kind::raised);
  EXPECT_FALSE(b.because(kStale));
}

TEST(AlertRoots, one_that_goes_with_its_root_was_never_worth_a_word) {
  Bench b;
  b.raise(kBroker);
  b.raise(kStale);
  b.pass(minutes(1));
  b.end(kBroker);
  b.end(kStale);
  b.pass(hours(1));
  ASSERT_EQ(b.told.size(), 2U);
  EXPECT_EQ(b.told[1].kind, Kind::over);
  EXPECT_FALSE(b.desk.find(kStale));
}

TEST(AlertRoots, an_older_trouble_is_not_laid_at_the_door_of_a_new_one) {
  Bench b;
  b.raise(kStale);
  b.pass(hours(2));
  b.raise(kBroker);
  EXPECT_FALSE(b.because(kStale));
}

TEST(AlertRoots, by_place_and_by_name) {
  EXPECT_TRUE(covers({"tub-1", "output_mister"}, {"tub-1", "actuator_mister_no_effect"}));
  EXPECT_FALSE(covers({"tub-1", "output_fan"}, {"tub-1", "actuator_mister_no_effect"}));
  EXPECT_FALSE(covers({"tub-2", "output_mister"}, {"tub-1", "actuator_mister_no_effect"}));
  EXPECT_TRUE(covers({"tub-1", "sensor_air_stale"}, {"tub-1", "humidity_leaving"}));
  EXPECT_FALSE(covers({"tub-1", "sensor_air_stale"}, {"tub-2", "humidity_leaving"}));
  EXPECT_FALSE(covers(kStale, kBroker));
  EXPECT_FALSE(covers(kBroker, {"tub-1", "humidity_low"})) << "a limit is always told";
  EXPECT_FALSE(can_be_covered("humidity_low"));
}

TEST(AlertRoots, the_table_has_no_ring) {
  for (const CauseRow& a : cause_table()) {
    for (const CauseRow& b : cause_table()) {
      const auto named = [](std::string_view pattern) {
        std::string cause(pattern);
        const auto star = cause.find('*');
        return star == std::string::npos ? cause : cause.replace(star, 1, "x");
      };
      const AlertKey one{"t", named(a.pattern)}, other{"t", named(b.pattern)};
      EXPECT_FALSE(covers(one, other) && covers(other, one)) << a.pattern << " " << b.pattern;
    }
  }
}

TEST(AlertRoots, the_table_of_covers_names_causes_that_are_there) {
  for (const CoverRow& row : cover_table()) {
    bool root = false, covered = false;
    for (const CauseRow& cause : cause_table()) {
      root = root || cause.pattern == row.root;
      covered = covered || cause.pattern == row.covered ||
                (row.covered.starts_with("*") && cause.pattern.ends_with(row.covered.substr(1)));
    }
    EXPECT_TRUE(root) << row.root;
    EXPECT_TRUE(covered) << row.covered;
  }
}

// --- words --------------------------------------------------------------------------------------

TEST(AlertWords, every_cause_says_what_it_means_what_to_do_and_how_long_one_has) {
  std::set<std::string_view> patterns;
  for (const CauseRow& row : cause_table()) {
    EXPECT_TRUE(patterns.insert(row.pattern).second) << row.pattern;
    for (const std::string_view words : {row.means, row.steps, row.have}) {
      EXPECT_GE(words.size(), 5U) << row.pattern;
      EXPECT_LE(words.size(), 120U) << row.pattern << ": for a phone";
      EXPECT_NE(words.front(), ' ') << row.pattern;
    }
    std::string cause(row.pattern);
    if (const auto star = cause.find('*'); star != std::string::npos) cause.replace(star, 1, "a_b");
    EXPECT_EQ(cause_row(cause), &row) << cause << " is taken for another";
  }
  EXPECT_FALSE(cause_row("sensor__stale"));
  EXPECT_FALSE(cause_row("nonsense"));
}

// --- floods -------------------------------------------------------------------------------------

AlertKey of(int i) { return {"tub-" + std::to_string(i), "co2_high"}; }

TEST(AlertFlood, many_at_once_are_one_message) {
  Bench b;
  b.step(desk::Time{});
  for (int i = 1; i <= 10; ++i) b.raise(of(i));
  EXPECT_EQ(b.told.size(), 10U);
  EXPECT_FALSE(b.desk.flood());
  for (int i = 11; i <= 30; ++i) b.raise(of(i));
  EXPECT_TRUE(b.desk.flood());
  ASSERT_EQ(b.told.size(), 11U);
  EXPECT_EQ(b.told[10].kind, Kind::flood);
  b.pass(kFloodWindow);
  ASSERT_EQ(b.told.size(), 12U) << "the rest in one";
  EXPECT_EQ(b.told[11].alerts.size(), 19U);
  EXPECT_FALSE(b.desk.flood());
  b.raise(of(40));
  EXPECT_EQ(b.told.size(), 13U) << "and then one by one again";
  EXPECT_EQ(b.told[12].kind, Kind::raised);
}

TEST(AlertFlood, ten_in_ten_minutes_are_none) {
  Bench b;
  for (int i = 1; i <= 30; ++i) {
    b.raise(of(i));
    b.step(desk::Seen{of(i)});
    b.pass(minutes(1));
  }
  EXPECT_FALSE(b.desk.flood());
}

TEST(AlertFlood, what_a_flood_told_in_one_is_not_told_one_by_one_when_it_is_over) {
  Bench b;
  for (int i = 1; i <= 20; ++i) b.raise(of(i));
  b.pass(kFloodWindow);
  b.told.clear();
  for (int i = 1; i <= 20; ++i) b.end(of(i));
  EXPECT_EQ(b.told.size(), 10U) << "those that were told one by one";
}

}  // namespace
}  // namespace tubwarden
