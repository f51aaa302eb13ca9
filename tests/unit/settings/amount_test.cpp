// Amounts: what each unit is in the kept one, what is refused, and what is named instead.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "settings/amount.hpp"

namespace tubwarden {
namespace {

using testing::HasSubstr;

TEST(Amount, IsReadInEveryUnitIntoTheKeptOne) {
  struct Row {
    const char* text;
    Measure measure;
    double kept;
  };
  // 32 F, 212 F: the fixed points of the scale; the others by definition of the unit.
  for (const Row& row : {Row{"60 L", Measure::volume, 60},
                         Row{"0.06 m3", Measure::volume, 60},
                         Row{"5 kg", Measure::mass, 5},
                         Row{"500 g", Measure::mass, 0.5},
                         Row{"100 g/h", Measure::water_rate, 100},
                         Row{"0.1 kg/h", Measure::water_rate, 100},
                         Row{"2 m3/h", Measure::air_rate, 2},
                         Row{"2000 L/h", Measure::air_rate, 2},
                         Row{"15 W", Measure::power, 15},
                         Row{"26.5 C", Measure::temperature, 26.5},
                         Row{"-5 C", Measure::temperature, -5},
                         Row{"32 F", Measure::temperature, 0},
                         Row{"212 F", Measure::temperature, 100},
                         Row{"77 F", Measure::temperature, 25},
                         Row{"90 %", Measure::humidity, 90},
                         Row{"1000 ppm", Measure::co2, 1000},
                         Row{"0.1 %", Measure::co2, 1000},
                         Row{"90s", Measure::duration, 90},
                         Row{"  60   L  ", Measure::volume, 60},
                         Row{"60L", Measure::volume, 60},
                         Row{"90%", Measure::humidity, 90}}) {
    const auto got = parse_amount(row.text, row.measure);
    ASSERT_TRUE(got.ok()) << row.text;
    EXPECT_DOUBLE_EQ(*got, row.kept) << row.text;
  }
}

TEST(Amount, WithoutAUnitNamesThoseAllowed) {
  const auto bare = parse_amount("90", Measure::water_rate);
  ASSERT_FALSE(bare.ok());
  EXPECT_EQ(bare.error().code, ErrorCode::bad_input);
  EXPECT_EQ(bare.error().text,
            "'90' has no unit; write a rate of water with its unit: 40 g/h or 0.04 kg/h");
}

TEST(Amount, RefusesWhatIsNone) {
  for (const char* text : {"", " ", "L", "60 l", "60 LL", "60 L L", "1e3 L", "0x10 L", "nan L",
                           "inf L", "6 0 L", "60,5 L", "--60 L", "+60 L", "60 %", "60 L/h", "m3"}) {
    EXPECT_FALSE(parse_amount(text, Measure::volume).ok()) << text;
  }
  EXPECT_FALSE(parse_amount("9999999999 L", Measure::volume).ok());
}

TEST(Amount, ADifferenceOfTemperaturesHasNoZeroPoint) {
  EXPECT_DOUBLE_EQ(*parse_difference("0.9 F", Measure::temperature), 0.5);
  EXPECT_DOUBLE_EQ(*parse_difference("0.5 C", Measure::temperature), 0.5);
  EXPECT_DOUBLE_EQ(*parse_difference("0.005 %", Measure::co2), 50);
  EXPECT_FALSE(parse_difference("-1 C", Measure::temperature).ok());
}

TEST(AmountOfTime, IsReadFromMillisecondsToDaysAlsoJoined) {
  EXPECT_EQ(*parse_duration("500ms"), milliseconds(500));
  EXPECT_EQ(*parse_duration("90s"), seconds(90));
  EXPECT_EQ(*parse_duration("15m"), minutes(15));
  EXPECT_EQ(*parse_duration("6h"), hours(6));
  EXPECT_EQ(*parse_duration("14d"), days(14));
  EXPECT_EQ(*parse_duration("1.5h"), minutes(90));
  EXPECT_EQ(*parse_duration("1h 30m"), minutes(90));
  EXPECT_EQ(*parse_duration("1h30m"), minutes(90));
  EXPECT_EQ(*parse_duration("2d 6h 30m 5s 250ms"),
            days(2) + hours(6) + minutes(30) + seconds(5) + milliseconds(250));
  EXPECT_EQ(*parse_duration("0s"), Duration{0});
}

TEST(AmountOfTime, RefusesWhatIsNone) {
  for (const char* text :
       {"", "90", "s", "-5s", "5 sec", "30m 1h", "5s 5s", "1h 30", "1h,30m", "9999d", "5S", "1w"}) {
    EXPECT_FALSE(parse_duration(text).ok()) << text;
  }
  EXPECT_THAT(parse_duration("90").error().text, HasSubstr("500ms, 90s, 15m, 6h or 14d"));
}

TEST(Amount, IsWrittenAsItWouldBeRead) {
  for (Measure measure : {Measure::volume, Measure::mass, Measure::water_rate, Measure::air_rate,
                          Measure::power, Measure::temperature, Measure::humidity, Measure::co2}) {
    const auto again = parse_amount(amount_text(12.25, measure), measure);
    ASSERT_TRUE(again.ok()) << amount_text(12.25, measure);
    EXPECT_DOUBLE_EQ(*again, 12.25);
  }
  EXPECT_EQ(amount_text(0, Measure::duration), "0s");
  EXPECT_EQ(amount_text(5400, Measure::duration), "1h 30m");
  EXPECT_EQ(amount_text(1.5, Measure::duration), "1s 500ms");
  EXPECT_EQ(*parse_duration(amount_text(180061.001, Measure::duration)),
            days(2) + hours(2) + minutes(1) + seconds(1) + milliseconds(1));
}

}  // namespace
}  // namespace tubwarden
