// What listen says of a message it has never seen. The payloads are made up after what sensors on
// MQTT commonly send (common practice, no source).
#include "core/sensing/guess.hpp"

#include <gtest/gtest.h>

#include <ostream>

#include "core/sensing/guess_words.hpp"

namespace tubwarden {
namespace {

Looks looks(Measured what, SensorUnit unit, bool maybe = false,
            GuessedPlace place = GuessedPlace::unsaid, double scale = 1.0) {
  return {what, unit, scale, maybe, place};
}
const Looks kHumidity = looks(Measured::humidity, SensorUnit::percent);
const Looks kCelsius = looks(Measured::temperature, SensorUnit::celsius);
const Looks kCo2 = looks(Measured::co2, SensorUnit::ppm);
Looks maybe(Looks l) {
  l.maybe = true;
  return l;
}
Looks at(Looks l, GuessedPlace place) {
  l.place = place;
  return l;
}
Looks in(Looks l, SensorUnit unit, double scale = 1.0) {
  l.unit = unit;
  l.scale = scale;
  return l;
}

struct Case {
  const char* topic;
  const char* payload;
  const char* at;
  std::optional<Looks> looks;
};

void PrintTo(const Case& c, std::ostream* out) {
  *out << c.topic << " " << c.payload << " at '" << c.at << "'";
}

class Guess : public testing::TestWithParam<Case> {};

TEST_P(Guess, OfOneNumber) {
  const Case& c = GetParam();
  const MessageGuess guess = guess_numbers(c.topic, c.payload);
  for (const NumberGuess& number : guess.numbers) {
    if (number.at == c.at) {
      EXPECT_EQ(number.looks, c.looks) << c.payload;
      return;
    }
  }
  FAIL() << "no number at '" << c.at << "' in " << c.payload;
}

constexpr const char* kZ = "shed/probe-4";

INSTANTIATE_TEST_SUITE_P(
    ByName, Guess,
    testing::Values(Case{kZ, R"({"rh": 87.2, "t": 16.9, "co2": 840})", "/rh", kHumidity},
                    Case{kZ, R"({"rh": 87.2, "t": 16.9, "co2": 840})", "/t", kCelsius},
                    Case{kZ, R"({"rh": 87.2, "t": 16.9, "co2": 840})", "/co2", kCo2},
                    Case{kZ, R"({"relativeHumidity": 50})", "/relativeHumidity", kHumidity},
                    Case{kZ, R"({"rH": 50})", "/rH", kHumidity},
                    Case{kZ, R"({"hum1": 50})", "/hum1", kHumidity},
                    Case{kZ, R"({"CO2-ppm": 615})", "/CO2-ppm", kCo2},
                    Case{kZ, R"({"carbonDioxide": 615})", "/carbonDioxide", kCo2},
                    Case{kZ, R"({"tempC": 60})", "/tempC", kCelsius},
                    Case{kZ, R"({"x": {"temperature": {"value": 21}}})", "/x/temperature/value",
                         kCelsius},
                    Case{kZ, R"({"list": [{"temperature": 21}]})", "/list/0/temperature", kCelsius},
                    Case{kZ, R"({"a/b~temp": 21})", "/a~1b~0temp", kCelsius},
                    Case{"shed/tub-1/humidity", "87.5", "", kHumidity},
                    Case{"shed/tub-1/humidity/state", " 87.5\n", "", kHumidity},
                    Case{"shed/tub-1/rh", R"({"value": 87.5})", "/value", kHumidity}));

INSTANTIATE_TEST_SUITE_P(
    ByUnit, Guess,
    testing::Values(
        Case{kZ, R"({"temp_f": 62.4})", "/temp_f", in(kCelsius, SensorUnit::fahrenheit)},
        Case{kZ, R"({"temperature": 62.4})", "/temperature",
             maybe(in(kCelsius, SensorUnit::fahrenheit))},
        Case{kZ, R"({"temperature": 290.1})", "/temperature", in(kCelsius, SensorUnit::kelvin)},
        Case{kZ, R"({"value": 20, "unit": "C"})", "/value", kCelsius},
        Case{kZ, R"({"temperature": 70, "unit": "\u00b0F"})", "/temperature",
             in(kCelsius, SensorUnit::fahrenheit)},
        Case{kZ, R"({"value": 60, "unit": "%"})", "/value", maybe(kHumidity)},
        Case{kZ, R"({"value": 600, "unit": "ppm"})", "/value", maybe(kCo2)},
        Case{kZ, R"({"co2_percent": 0.4})", "/co2_percent", in(kCo2, SensorUnit::percent)}));

INSTANTIATE_TEST_SUITE_P(
    ByValueAlone, Guess,
    testing::Values(Case{kZ, "87.5", "", maybe(kHumidity)}, Case{kZ, "17.5", "", maybe(kCelsius)},
                    Case{kZ, "640", "", maybe(kCo2)}, Case{kZ, "35", "", std::nullopt},
                    Case{kZ, "1", "", std::nullopt}, Case{kZ, "-4", "", std::nullopt},
                    Case{kZ, "123456", "", std::nullopt},
                    Case{kZ, R"({"q": 87.5})", "/q", maybe(kHumidity)}));

INSTANTIATE_TEST_SUITE_P(
    ByPlace, Guess,
    testing::Values(Case{"shed/tub-1/air", R"({"t": 17})", "/t", at(kCelsius, GuessedPlace::air)},
                    Case{"shed/tub-1/bed", "62.4", "",
                         at(maybe(in(kCelsius, SensorUnit::fahrenheit)), GuessedPlace::substrate)},
                    Case{kZ, R"({"compost": {"temp": 24}})", "/compost/temp",
                         at(kCelsius, GuessedPlace::substrate)},
                    Case{"shed/air", R"({"soil_temp": 24})", "/soil_temp",
                         at(kCelsius, GuessedPlace::substrate)}));

INSTANTIATE_TEST_SUITE_P(Scaled, Guess,
                         testing::Values(Case{kZ, R"({"humidity": 0.87})", "/humidity",
                                              maybe(in(kHumidity, SensorUnit::percent, 100))},
                                         Case{kZ, R"({"humidity": 8724})", "/humidity",
                                              maybe(in(kHumidity, SensorUnit::percent, 0.01))},
                                         Case{kZ, R"({"temperature": 2140})", "/temperature",
                                              maybe(in(kCelsius, SensorUnit::celsius, 0.01))}));

INSTANTIATE_TEST_SUITE_P(
    NotTheAir, Guess,
    testing::Values(Case{kZ, R"({"battery": 87})", "/battery", std::nullopt},
                    Case{kZ, R"({"linkquality": 87})", "/linkquality", std::nullopt},
                    Case{kZ, R"({"dewPoint": 12})", "/dewPoint", std::nullopt},
                    Case{kZ, R"({"target_temperature": 12})", "/target_temperature", std::nullopt},
                    Case{kZ, R"({"pressure_hpa": 1013})", "/pressure_hpa", std::nullopt},
                    Case{kZ, R"({"humidity": 140})", "/humidity", std::nullopt},
                    Case{kZ, R"({"timestamp": 1764068400})", "/timestamp", std::nullopt},
                    Case{"shed/mister", "87", "", std::nullopt},
                    Case{kZ, R"({"lamp": {"temp": 40}, "light": {"temp": 40}})", "/light/temp",
                         maybe(kCelsius)},
                    Case{kZ, R"({"eco2": 640})", "/eco2", maybe(kCo2)},
                    Case{"shed/temperature", R"({"lamp": 21})", "/lamp", maybe(kCelsius)}));

TEST(GuessNumbers, ANumberInQuotesIsShownAsOne) {
  const MessageGuess guess = guess_numbers(kZ, R"({"rh": "87.2", "name": "probe 4", "on": true})");
  ASSERT_EQ(guess.numbers.size(), 1u);
  EXPECT_TRUE(guess.numbers[0].quoted);
  EXPECT_EQ(guess.numbers[0].looks, kHumidity);
}

TEST(GuessNumbers, WhatIsNoMessageHasNone) {
  for (const char* payload : {"", "  ", "on", "{", "nan", "inf", "null", "true", "{}", "[]"}) {
    EXPECT_TRUE(guess_numbers(kZ, payload).numbers.empty()) << payload;
  }
  EXPECT_TRUE(guess_numbers(kZ, std::string(9000, '1')).numbers.empty()) << "over the limit";
  std::string deep;
  for (int i = 0; i < 40; ++i) deep += "[";
  deep += "21";
  for (int i = 0; i < 40; ++i) deep += "]";
  EXPECT_TRUE(guess_numbers(kZ, deep).numbers.empty());
}

TEST(GuessNumbers, ManyNumbersAreCutAndCounted) {
  std::string payload = "[0";
  for (int i = 1; i < 50; ++i) payload += ",1";
  const MessageGuess guess = guess_numbers(kZ, payload + "]");
  EXPECT_EQ(guess.numbers.size(), kGuessesMax);
  EXPECT_EQ(guess.left_out, 50 - kGuessesMax);
}

TEST(GuessNumbers, NoWordStandsTwiceInTheTable) {
  for (std::size_t i = 0; i < guess::kWords.size(); ++i) {
    for (std::size_t j = i + 1; j < guess::kWords.size(); ++j) {
      EXPECT_NE(guess::kWords[i].word, guess::kWords[j].word);
    }
  }
}

}  // namespace
}  // namespace tubwarden
