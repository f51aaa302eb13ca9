// The pick clock by published paces, by temperature, by more than one look, and told as an evening.
#include "core/forecast/pick_clock.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/text.hpp"

namespace tubwarden {
namespace {

using ::testing::HasSubstr;

WallTime when(const char* text) { return *parse_rfc3339(text); }
const WallTime kSeen = when("2026-03-01T09:00:00Z");

double days_after(WallTime t) { return static_cast<double>((t - kSeen).count()) / 86'400'000.0; }

PickCase tub_of(std::vector<PinLook> pins, double substrate_c) {
  PickCase tub;
  tub.pins = std::move(pins);
  tub.history = {{kSeen - hours(1), Celsius{substrate_c}}};
  tub.now = tub.pins.empty() ? kSeen : tub.pins.back().at;
  tub.ahead = {substrate_c};
  return tub;
}

PickForecast told(const PickCase& tub) {
  const auto found = forecast_pick(tub);
  EXPECT_TRUE(found.ok()) << found.error().text;
  return found.ok() ? *found : PickForecast{};
}

// V. P. Sharma, Handbook of Horticulture, ICAR 2019, p. 563, as cited: 3 to 4 days from pin to pick
// at 16 to 18 C; Beyer, Penn State, as copied: size doubles every 24 h.
TEST(PickClock, DoublesDailyAndTakesThreeToFourDays) {
  const PickForecast pins = told(tub_of({{kSeen, 3.0}}, 17.0));
  EXPECT_GT(days_after(pins.ready.likely), 3.0);
  EXPECT_LT(days_after(pins.ready.likely), 4.0);
  EXPECT_NEAR(days_after(told(tub_of({{kSeen, 10.0}}, 17.0)).ready.likely), 2.0, 1e-6);
  EXPECT_NEAR(days_after(told(tub_of({{kSeen, 20.0}}, 17.0)).ready.likely), 1.0, 1e-6);
  EXPECT_LT(pins.ready.early, pins.ready.likely);
  EXPECT_LT(pins.ready.likely, pins.ready.late);
}

TEST(PickClock, GoesSlowerInTheCold) {
  EXPECT_NEAR(pick_pace({17.0}), 1.0, 1e-12);
  EXPECT_NEAR(pick_pace({12.0}), std::sqrt(0.5), 1e-12);
  EXPECT_EQ(pick_pace({2.0}), pick_pace({8.0})) << "held where nothing is known";
  EXPECT_EQ(pick_pace({40.0}), pick_pace({22.0}));
  EXPECT_NEAR(days_after(told(tub_of({{kSeen, 10.0}}, 12.0)).ready.likely), 2.0 * std::sqrt(2.0),
              1e-6);
  PickCase tub = tub_of({{kSeen, 10.0}}, 17.0);
  tub.history.push_back({kSeen + hours(24), Celsius{12.0}});
  tub.now = kSeen + hours(24);
  tub.ahead = {12.0};
  EXPECT_NEAR(days_after(told(tub).ready.likely), 1.0 + std::sqrt(2.0), 1e-6);
  EXPECT_NEAR(told(tub).size_now_mm, 20.0, 1e-6);
}

TEST(PickClock, LearnsFromASecondLook) {
  const PickForecast one = told(tub_of({{kSeen, 2.5}}, 17.0));
  const PickForecast slow = told(tub_of({{kSeen, 2.5}, {kSeen + hours(48), 6.0}}, 17.0));
  EXPECT_LT(slow.doublings_a_day, 0.95);
  EXPECT_GT(slow.doublings_a_day, 0.63) << "what the two looks alone would say";
  EXPECT_GT(slow.ready.likely, one.ready.likely);
  const PickForecast even = told(tub_of({{kSeen, 2.5}, {kSeen + hours(48), 10.0}}, 17.0));
  EXPECT_NEAR(days_after(even.ready.likely), 4.0, 1e-6);
  EXPECT_LT(even.ready.late - even.ready.early, one.ready.late - one.ready.early);
  const PickForecast shrunk = told(tub_of({{kSeen, 30.0}, {kSeen + hours(240), 1.0}}, 17.0));
  EXPECT_EQ(shrunk.doublings_a_day, 0.3) << "bounded";
}

TEST(PickClock, NamesTheNearestLocalEvening) {
  const std::chrono::minutes east{120};
  EXPECT_EQ(rfc3339(evening_of(when("2026-06-03T09:00:00Z"), east)), "2026-06-03T16:00:00.000Z");
  EXPECT_EQ(rfc3339(evening_of(when("2026-06-03T04:00:00Z"), east)), "2026-06-03T16:00:00.000Z");
  EXPECT_EQ(rfc3339(evening_of(when("2026-06-03T03:59:00Z"), east)), "2026-06-02T16:00:00.000Z");
  EXPECT_EQ(rfc3339(evening_of(when("2026-06-03T23:00:00Z"), east)), "2026-06-03T16:00:00.000Z");
  const std::chrono::minutes west{-300};
  EXPECT_EQ(rfc3339(evening_of(when("2026-06-03T23:00:00Z"), west)), "2026-06-03T23:00:00.000Z");
  EXPECT_EQ(rfc3339(evening_of(when("1969-12-31T20:00:00Z"), {})), "1969-12-31T18:00:00.000Z");
  PickCase tub = tub_of({{kSeen, 10.0}}, 17.0);
  EXPECT_EQ(rfc3339(told(tub).evening), "2026-03-03T18:00:00.000Z");
}

TEST(PickClock, RefusesWhatCannotBe) {
  const auto why = [](const PickCase& tub) {
    const auto found = forecast_pick(tub);
    return found.ok() ? std::string() : found.error().text;
  };
  EXPECT_THAT(why(tub_of({}, 17.0)), HasSubstr("1 to 200"));
  EXPECT_THAT(why(tub_of({{kSeen, 0.0}}, 17.0)), HasSubstr("pins of 0 mm"));
  EXPECT_THAT(why(tub_of({{kSeen, std::nan("")}}, 17.0)), HasSubstr("0.2 to 300 mm"));
  PickCase tub = tub_of({{kSeen, 3.0}}, 17.0);
  tub.now = kSeen - hours(1);
  EXPECT_THAT(why(tub), HasSubstr("until now"));
  tub = tub_of({{kSeen, 3.0}}, 17.0);
  tub.pick_size_mm = 1.0;
  EXPECT_THAT(why(tub), HasSubstr("5 to 300 mm"));
}

}  // namespace
}  // namespace tubwarden
