// next_wake: nothing that is due is missed by a shell that looks only when it was asked to.
#include <fmt/format.h>

#include <random>

#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;
constexpr auto kAir = Quantity::air_temperature;
constexpr auto kSubstrate = Quantity::substrate_temperature;
constexpr auto kCo2 = Quantity::co2;

constexpr Duration kGrid = milliseconds(100);

/// Everything that has a timer, all at once.
void busy(Plans& s) {
  s.keep("colonization", kSubstrate, 24, 26);
  s.keep_above("colonization", kHumidity, 80);
  s.warn("colonization", kHumidity, {75.0, std::nullopt, minutes(2)});
  s.keep("fruiting", kHumidity, 85, 90);
  s.keep("fruiting", kAir, 15, 19).glide = minutes(40);
  s.keep_below("fruiting", kCo2, 1000);
  s.warn("fruiting", kHumidity, {80.0, 95.0, minutes(2)});
  s.warn("fruiting", kAir, {14.0, 20.0, seconds(90)});
  s.phase("fruiting").settle_temperature = minutes(12);
  s.phase("fruiting").settle_other = minutes(3);
  s.phase("fruiting").fresh_air = FreshAirFloor{1, minutes(5)};
  s.phase("colonization").fresh_air = FreshAirFloor{0.5, minutes(7)};
  s.phase("fruiting").light = LightHours{480, 490};
  s.phase("colonization").light = LightHours{485, 482};
  s.tubs[0].substrate_ceiling_c = 26.5;
  s.room.temperature.sensor = SensorPlan{};
  s.room.temperature.sensor->stale_after = seconds(200);
  s.room.humidity.fixed = 60;
  s.part(mister).limits = {seconds(2), seconds(7), seconds(20), 60};
  s.part(fan).limits = {seconds(10), seconds(13), seconds(45), 0};
  s.part(mat).limits = {seconds(30), seconds(11), Duration{0}, 40};
  s.part(cooler).limits = {seconds(50), seconds(70), Duration{0}, 12};
  s.part(stir).limits = {seconds(3), seconds(3), Duration{0}, 0};
  s.part(fan).output.safe = 200;
  s.part(lamp).output.safe = kRun;
  s.chamber.sensors.push_back(s.chamber.sensors[air_sensor]);
  s.chamber.sensors.back().id = "air-2";
  s.chamber.sensors.back().stale_after = seconds(75);
}

/// A seeded life of a tub: readings that wander and jump, and everything that can happen to it.
class Life {
 public:
  explicit Life(unsigned seed) : random_(seed) {}

  Duration pause() { return milliseconds(uniform(1, 9000)); }

  Event next(Instant now) {
    const int what = uniform(0, 99);
    if (what < 70) return reading();
    if (what < 76) return event::RoomReading{event::RoomQuantity::temperature, real(8, 26), false};
    if (what < 79) return event::SensorGone{static_cast<std::size_t>(uniform(0, 2))};
    if (what < 80) return event::BrokerDown{};
    if (what < 85) return event::BrokerUp{};
    if (what < 91) {
      return event::OutputUsable{static_cast<std::size_t>(uniform(0, 6)), uniform(0, 4) > 0, ""};
    }
    if (what < 93) {
      static const char* phases[] = {"fruiting", "fruiting",     "fruiting", "fruiting",
                                     "fruiting", "colonization", "empty",    ""};
      const Duration ago = seconds(uniform(0, 1500));
      return event::PhaseIs{{"tub-1", phases[uniform(0, 7)], now - ago, {}}};
    }
    if (what < 95) {
      if (uniform(0, 5) == 0) return event::LocalTime{std::nullopt};
      return event::LocalTime{8 * 3600 + uniform(-120, 900)};
    }
    return event::Tick{};
  }

 private:
  event::Reading reading() {
    event::Reading r;
    r.sensor = static_cast<std::size_t>(uniform(0, 2));
    const bool bed = r.sensor == bed_sensor;
    static const Quantity of_air[] = {kHumidity, kAir, kCo2};
    r.quantity = bed ? kSubstrate : of_air[uniform(0, 2)];
    static const double lows[] = {76, 12, 22, 400};
    static const double highs[] = {98, 24, 28, 1600};
    const std::size_t q = index_of(r.quantity);
    value_[q] += real(-1, 1) * (highs[q] - lows[q]) / 12;
    if (uniform(0, 9) == 0 || value_[q] < lows[q] || value_[q] > highs[q]) {
      value_[q] = real(lows[q], highs[q]);
    }
    r.value = value_[q];
    r.retained = uniform(0, 19) == 0;
    r.at_least = uniform(0, 19) == 0;
    if (uniform(0, 9) == 0) r.age = milliseconds(uniform(0, 180000));
    return r;
  }
  int uniform(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }
  double real(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random_);
  }

  std::mt19937 random_;
  std::array<double, kQuantities> value_{};
};

/// What a chamber said, in a form that can be compared and read.
std::vector<std::string> log_of(const Rig& rig, Instant zero) {
  std::vector<std::string> lines;
  for (const Heard& h : rig.heard) {
    lines.push_back(fmt::format("{:.9f} output {} level {} run {:.9f} safe {}",
                                seconds_of(h.at - zero), h.command.actuator, h.command.level,
                                seconds_of(h.command.run), h.command.safe));
  }
  for (const GlideStart& g : rig.glides) lines.push_back(fmt::format("glide {}", g.value));
  for (const AlertChange& a : rig.alerted) {
    lines.push_back(fmt::format("alert {} {} since {:.9f}: {}", a.raised, a.alert.key.cause,
                                seconds_of(a.alert.since - zero), a.alert.text));
  }
  return lines;
}

class Missed : public testing::TestWithParam<unsigned> {};
INSTANTIATE_TEST_SUITE_P(Seeds, Missed, testing::Range(1U, 13U));

TEST_P(Missed, NothingAgainstAChamberThatIsAskedEachTenthOfASecond) {
  Rig asked(busy), bothered(busy);
  const Instant zero = asked.now;
  asked.start("fruiting");
  bothered.start("fruiting");
  Life life(GetParam());
  Instant grid = zero;
  for (int i = 0; i < 900; ++i) {
    const Instant next = asked.now + life.pause();
    // The bothered one is asked at every wish of the other, and on a grid of its own.
    while (asked.last.next_wake <= next) {
      for (; grid < asked.last.next_wake; grid += kGrid) {
        if (grid <= bothered.now) continue;
        bothered.at(grid - bothered.now);
      }
      bothered.at(asked.last.next_wake - bothered.now);
      asked.at(asked.last.next_wake - asked.now);
    }
    for (; grid < next; grid += kGrid) {
      if (grid <= bothered.now) continue;
      bothered.at(grid - bothered.now);
    }
    asked.now = bothered.now = next;
    const Event event = life.next(next);
    asked.step(event);
    bothered.step(event);
    if (asked.heard.size() != bothered.heard.size()) break;
  }
  const auto one = log_of(asked, zero), other = log_of(bothered, zero);
  ASSERT_GT(one.size(), 200U) << "a life in which little happens proves little";
  for (std::size_t i = 0; i < std::min(one.size(), other.size()); ++i) {
    ASSERT_EQ(one[i], other[i]) << "line " << i << " of seed " << GetParam();
  }
  EXPECT_EQ(one.size(), other.size());
}

TEST_P(Missed, NoRuleIsBrokenOnTheWay) {
  Rig rig(busy);
  rig.start("fruiting");
  Life life(GetParam() + 1000);
  std::array<Instant, 7> changed;
  changed.fill(rig.now);
  std::array<Level, 7> level{};
  for (std::size_t i = 0; i < level.size(); ++i) level[i] = rig.level(static_cast<Part>(i));
  std::size_t seen = rig.heard.size();
  int mists = 0;
  for (int i = 0; i < 900; ++i) {
    rig.wait(life.pause());
    rig.step(life.next(rig.now));
    ASSERT_FALSE(rig.runs(mat) && rig.runs(cooler)) << "seed " << GetParam();
    for (; seen < rig.heard.size(); ++seen) {
      const Heard& h = rig.heard[seen];
      const std::size_t part = h.command.actuator;
      if (part == mister && h.command.level == kRun && level[part] == kRest) {
        EXPECT_GE(h.at - changed[part], seconds(7)) << "its shortest rest, seed " << GetParam();
        EXPECT_EQ(h.command.run, seconds(20));
        ++mists;
      }
      if (h.command.level != level[part]) changed[part] = h.at;
      level[part] = h.command.level;
    }
  }
  EXPECT_GT(mists, 3);
}

// --- each timer by itself -----------------------------------------------------------------------

/// Steps to one nanosecond before the wake, where nothing may have happened, and then to it.
template <class Happened>
void due_at(Rig& rig, Duration in, Happened happened) {
  EXPECT_EQ(rig.last.next_wake, rig.now + in);
  rig.at(in - Duration{1});
  EXPECT_FALSE(happened());
  EXPECT_EQ(rig.last.next_wake, rig.now + Duration{1});
  rig.at(Duration{1});
  EXPECT_TRUE(happened());
}

TEST(Wake, StaleReading) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.chamber.sensors.pop_back();
  });
  rig.start("fruiting").humidity(80);
  rig.reads(kAir, 17);
  rig.reads(kCo2, 600);
  due_at(rig, minutes(2) + Duration{1}, [&] { return !rig.runs(mister); });
}

TEST(Wake, WarnDelayAndReturn) {
  Rig rig([](Plans& s) {
    s.warn("fruiting", kHumidity, {78.0, 95.0, minutes(3)});
    s.never_stale();
  });
  rig.start("fruiting", hours(24)).humidity(70);
  due_at(rig, minutes(3), [&] { return !rig.chamber().alerts().empty(); });
  rig.humidity(88);
  due_at(rig, minutes(1), [&] { return rig.chamber().alerts().empty(); });
}

TEST(Wake, EndOfSettling) {
  Rig rig([](Plans& s) {
    s.warn("fruiting", kHumidity, {78.0, 95.0, Duration{0}});
    s.phase("fruiting").settle_other = minutes(4);
    s.never_stale();
  });
  rig.start("fruiting").humidity(70);
  due_at(rig, minutes(4), [&] { return !rig.chamber().alerts().empty(); });
}

TEST(Wake, GlideStepAndEnd) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kAir, 15, 19).glide = minutes(2) + seconds(30);
    s.never_stale();
  });
  rig.start("fruiting").air(22);
  double band = rig.view(kAir).keep->low;
  const auto moved = [&] { return rig.view(kAir).keep->low != band; };
  due_at(rig, minutes(1), moved);
  band = rig.view(kAir).keep->low;
  due_at(rig, minutes(1), moved);
  band = rig.view(kAir).keep->low;
  due_at(rig, seconds(30), moved);
  EXPECT_EQ(rig.view(kAir).keep->low, 15);
}

TEST(Wake, NeverLaterThanFiveMinutes) {
  Rig rig([](Plans& s) { s.never_stale(); });
  rig.start("fruiting");
  EXPECT_EQ(rig.last.next_wake, rig.now + minutes(5));
}

}  // namespace
}  // namespace tubwarden
