// The room through time as a CSV file.
#include "settings/room_file.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

struct RoomRead {
  RoomFile room;
  std::vector<std::string> told;
};

RoomRead read(const std::string& text) {
  RoomRead out;
  std::vector<Finding> findings;
  out.room = read_room(text, "r.csv", findings);
  for (const Finding& finding : findings) out.told.push_back(finding.told());
  return out;
}

TEST(RoomFile, TakesItsColumnsInAnyOrderAndPassesOverEmptyCells) {
  const RoomRead r = read(
      "# a cellar\r\nco2_ppm,time,\"temperature_c\"\r\n420,0h,15\r\n,6h, "
      "17.5\r\n\r\n800,1d,15\r\n");
  ASSERT_THAT(r.told, IsEmpty());
  EXPECT_THAT(r.room.humidity_pct, IsEmpty());
  ASSERT_THAT(r.room.celsius, SizeIs(3));
  EXPECT_DOUBLE_EQ(r.room.celsius[1].at_s, 6 * 3600.0);
  EXPECT_DOUBLE_EQ(r.room.celsius[1].value, 17.5);
  ASSERT_THAT(r.room.co2_ppm, SizeIs(2));
  EXPECT_DOUBLE_EQ(r.room.co2_ppm[1].at_s, 86400.0);
  EXPECT_DOUBLE_EQ(r.room.length_s, 86400.0);
  EXPECT_DOUBLE_EQ(r.room.second_of_day, 0.0);
}

TEST(RoomFile, BeginsAtTheFirstLinesOwnTimeOfDay) {
  const RoomRead r =
      read("time,temperature_c\n2026-11-25T06:30:00+01:00,15\n2026-11-25T08:30:00.500Z,16\n");
  ASSERT_THAT(r.told, IsEmpty());
  EXPECT_DOUBLE_EQ(r.room.second_of_day, 6.5 * 3600.0);
  EXPECT_DOUBLE_EQ(r.room.length_s, 3 * 3600.0 + 0.5);  // 06:30 at +01:00 is 05:30 UTC
}

TEST(RoomFile, SaysWhatIsWrongWhereItStands) {
  const std::string head = "time,temperature_c,humidity_pct\n";
  EXPECT_THAT(read("time,temprature_c\n").told,
              testing::Contains(HasSubstr("r.csv:1:6: unknown column 'temprature_c'; nearest is "
                                          "'temperature_c'; allowed: time, temperature_c, "
                                          "humidity_pct, co2_ppm")));
  EXPECT_THAT(read("temperature_c\n1\n2\n").told,
              testing::Contains("r.csv:1:1: the head line names no column 'time'"));
  EXPECT_THAT(read("time\n0h\n1h\n").told, testing::Contains(HasSubstr("names nothing but times")));
  EXPECT_THAT(read("time,co2_ppm,co2_ppm\n").told,
              testing::Contains("r.csv:1:14: column 'co2_ppm' stands here a second time"));
  EXPECT_THAT(read(head + "0h,15\n").told,
              ElementsAre("r.csv:2:1: 2 cells here, and 3 in the head line"));
  EXPECT_THAT(read(head + "noon,15,50\n").told,
              ElementsAre(HasSubstr("r.csv:2:1: 'noon' is no time")));
  EXPECT_THAT(read(head + "0h,15,50\n0h,15,50\n").told,
              ElementsAre("r.csv:3:1: '0h' is not later than the line before"));
  EXPECT_THAT(read(head + "0h,15,50\n2026-11-25T06:30:00Z,15,50\n").told,
              ElementsAre("r.csv:3:1: durations and RFC 3339 do not stand in one file"));
  EXPECT_THAT(read(head + "0h,15 C,50\n").told,
              ElementsAre("r.csv:2:4: '15 C' is no plain number for temperature_c"));
  EXPECT_THAT(read(head + "0h,15,150\n").told,
              ElementsAre("r.csv:2:7: 150 is out of range for humidity_pct; allowed: 0 to 100"));
  EXPECT_THAT(read(head + "0h,nan,50\n").told, SizeIs(1));
}

TEST(RoomFile, RefusesWhatIsTooShortOrTooLong) {
  EXPECT_THAT(read("").told, ElementsAre(HasSubstr("r.csv: the file is empty")));
  EXPECT_THAT(read("time,co2_ppm\n0h,420\n").told, ElementsAre(HasSubstr("two lines or more")));
  std::string rubbish = "time,co2_ppm\n";
  for (int i = 0; i < 1000; ++i) rubbish += "x\n";
  EXPECT_THAT(read(rubbish).told, SizeIs(kRoomFindingsMax));
}

}  // namespace
}  // namespace tubwarden
