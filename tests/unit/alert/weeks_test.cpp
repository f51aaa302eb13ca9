// Seeded weeks on the alert desk: conditions come and go, hands act, nights pass, and no alert is
// lost, no message is told twice, and what is not told is so for a reason that can be named.
#include <gtest/gtest.h>

#include <map>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "core/alert/desk.hpp"

namespace tubwarden {
namespace {

struct Week {
  explicit Week(unsigned seed) : random(seed) {
    DeskRules rules;
    rules.channels = {{"phone", {}, {}},
                      {"mail", {AlertRank::now, AlertRank::today}, {}},
                      {"neighbour", {AlertRank::now}, minutes(uniform(5, 40))}};
    rules.again_every = hours(uniform(1, 6));
    rules.quiet_from_s = 22 * 3600;
    rules.quiet_to_s = 7 * 3600;
    rules.held = {AlertRank::today, AlertRank::noted};
    desk.rules(rules);
    for (int tub = 1; tub <= 4; ++tub) {
      const std::string place = "tub-" + std::to_string(tub);
      for (const char* cause : {"humidity_low", "humidity_leaving", "co2_high", "sensor_air_stale",
                                "output_mister", "actuator_mister_no_effect"}) {
        keys.push_back({place, cause});
      }
    }
    keys.push_back({"site", "broker_lost"});
    keys.push_back({"site", "channel_mail"});
  }

  int uniform(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random); }
  const AlertKey& any() {
    return keys[static_cast<std::size_t>(uniform(0, static_cast<int>(keys.size()) - 1))];
  }
  AlertRank rank_of(const AlertKey& key) const {
    return key.cause == "humidity_low"   ? AlertRank::today
           : key.cause == "co2_high"     ? AlertRank::noted
           : key.cause == "channel_mail" ? AlertRank::today
                                         : AlertRank::now;
  }
  Alert alert(const AlertKey& key) const { return {key, rank_of(key), key.cause, now}; }

  void step(const DeskEvent& event) {
    const int second =
        static_cast<int>(duration_cast<seconds>(now.time_since_epoch()).count() % 86400);
    const DeskEffects effects = desk.step(event, {now, second});
    for (const Telling& t : effects.tellings) {
      ASSERT_FALSE(t.alerts.empty());
      for (const std::string& channel : t.channels) {
        ASSERT_TRUE(keys_told.insert(t.key + " > " + channel).second) << t.key << " " << channel;
      }
      for (const Alert& a : t.alerts) {
        const bool raise = t.kind != Telling::Kind::over && t.kind != Telling::Kind::seen;
        if (raise) told.insert(a.key);
        ASSERT_FALSE(a.key.cause == "channel_mail" &&
                     std::count(t.channels.begin(), t.channels.end(), "mail") > 0 &&
                     t.alerts.size() == 1);
      }
      tellings += 1;
    }
    check(second);
  }

  /// Each that stands is told, or there is a reason why it is not.
  void check(int second) {
    for (const auto& [key, began] : standing) {
      const DeskAlert* a = desk.find(key);
      ASSERT_TRUE(a) << "lost: " << key.place << " " << key.cause;
      ASSERT_TRUE(a->active);
      const bool hushed = a->off || a->quiet_until || a->because_of || a->seen;
      const bool night = in_hours(second, 22 * 3600, 7 * 3600) && rank_of(key) != AlertRank::now;
      const bool waits = a->owed && desk.due();
      ASSERT_TRUE(a->first_told || hushed || night || waits) << key.place << " " << key.cause;
      if (a->owed && !hushed && !night) {
        ASSERT_TRUE(desk.flood() || a->owed_from > now) << key.place << " " << key.cause;
      }
    }
    for (const auto& [key, a] : desk.alerts()) {
      ASSERT_EQ(a.active, standing.contains(key)) << key.place << " " << key.cause;
    }
  }

  void act() {
    const AlertKey key = any();
    const int what = uniform(1, 100);
    if (what <= 45) {
      const bool stands = standing.contains(key);
      if (stands) {
        standing.erase(key);
        step(desk::Returned{alert(key)});
      } else {
        ++raised;
        standing[key] = now;
        step(desk::Raised{alert(key)});
      }
    } else if (what <= 60) {
      step(desk::Seen{key});
    } else if (what <= 62) {
      step(desk::SeenAll{});
    } else if (what <= 68) {
      step(desk::QuietUntil{alert(key), now + minutes(uniform(1, 600))});
    } else if (what <= 71) {
      step(desk::Off{alert(key), "mended"});
    } else if (what <= 76) {
      step(desk::Back{key});
    } else if (what <= 78) {
      step(desk::Suspected{{"site", "broker_lost"}, what == 77});
    } else {
      step(desk::Time{});
    }
  }

  void pass(Duration d) {
    const Instant end = now + d;
    while (desk.due() && *desk.due() <= end && !testing::Test::HasFatalFailure()) {
      ASSERT_GE(*desk.due() + seconds(1), now) << "a due time that has gone by turns for ever";
      now = std::max(now + milliseconds(1), *desk.due());
      step(desk::Time{});
    }
    now = std::max(now, end);
  }

  std::mt19937 random;
  AlertDesk desk;
  Instant now{hours(24 * 30)};
  std::vector<AlertKey> keys;
  std::map<AlertKey, Instant> standing;
  std::set<std::string> keys_told;
  std::set<AlertKey> told;
  int raised = 0, tellings = 0;
};

TEST(SimulatedAlerts, AreNeverLostAndNeverToldTwice) {
  int raised = 0, tellings = 0;
  for (unsigned seed = 1; seed <= 8; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    Week week(seed);
    const int pace = week.uniform(0, 2) == 0 ? 30 : 1800;  // some weeks are floods
    for (int i = 0; i < 400 && !testing::Test::HasFatalFailure(); ++i) {
      week.act();
      week.pass(milliseconds(week.uniform(1, pace * 1000)));
    }
    // A quiet end: all that still stands is brought back and told within the day.
    week.step(desk::Suspected{{"site", "broker_lost"}, false});
    for (const AlertKey& key : week.keys) week.step(desk::Back{key});
    week.pass(hours(24));
    for (const auto& [key, since] : week.standing) {
      const DeskAlert* a = week.desk.find(key);
      ASSERT_TRUE(a && (a->first_told || a->seen || a->because_of))
          << key.place << " " << key.cause;
    }
    if (testing::Test::HasFatalFailure()) return;
    raised += week.raised;
    tellings += week.tellings;
  }
  EXPECT_GT(raised, 300);
  EXPECT_GT(tellings, raised / 4) << "or everything was held back";
}

}  // namespace
}  // namespace tubwarden
