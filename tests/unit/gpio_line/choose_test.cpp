// Which line a wiring means, on boards that are written down here. The kernel's own chips come in
// tests/cross.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "gpio_line/choose.hpp"
#include "gpio_line/wiring.hpp"

namespace tubwarden::gpio {
namespace {

using testing::HasSubstr;
using testing::Not;

Board board() {
  return {{{"/dev/gpiochip0", "gpiochip0", "pinctrl-soc", {"ID_SDA", "", "FAN1", "TWICE"}},
           {"/dev/gpiochip1", "gpiochip1", "expander", {"", "TWICE", "MAT1"}},
           {"/dev/gpiochip2", "gpiochip2", "expander", {""}}},
          {}};
}

TEST(Choose, FindsALineByItsName) {
  const auto place = choose({"MAT1", "", 0}, board());
  ASSERT_TRUE(place);
  EXPECT_EQ(*place, (Place{"/dev/gpiochip1", 2, "MAT1 (gpiochip1, line 2)"}));
}

TEST(Choose, RefusesANameThatIsThereTwiceAndNamesBothChips) {
  const auto place = choose({"TWICE", "", 0}, board());
  ASSERT_FALSE(place);
  EXPECT_EQ(place.error().code, ErrorCode::refused);
  EXPECT_EQ(place.error().text,
            "the name 'TWICE' is there more than once (gpiochip0, line 3; gpiochip1, line 1): give "
            "chip and offset instead of line");
}

TEST(Choose, NamesTheLinesThatThereAre) {
  const auto place = choose({"FAN2", "", 0}, board());
  ASSERT_FALSE(place);
  EXPECT_EQ(place.error().code, ErrorCode::not_found);  // a chip that comes later may have it
  EXPECT_EQ(place.error().text,
            "no line is named 'FAN2'; there are: ID_SDA, FAN1, TWICE, TWICE, MAT1");
}

TEST(Choose, NamesAFewOfManyLines) {
  Board many{{{"/dev/gpiochip0", "gpiochip0", "big", {}}}, {}};
  for (int i = 0; i < 12; ++i) many.chips[0].lines.push_back("N" + std::to_string(i));
  EXPECT_THAT(choose({"X", "", 0}, many).error().text, Not(HasSubstr("...")));
  many.chips[0].lines.push_back("N12");
  const std::string text = choose({"X", "", 0}, many).error().text;
  EXPECT_THAT(text, HasSubstr("N11, ..."));
  EXPECT_THAT(text, Not(HasSubstr("N12")));
}

TEST(Choose, SaysWhichChipsCouldNotBeLookedAt) {
  Board closed = board();
  closed.closed.push_back({"/dev/gpiochip3", "Permission denied"});
  EXPECT_THAT(choose({"FAN2", "", 0}, closed).error().text,
              HasSubstr("; /dev/gpiochip3 cannot be opened: Permission denied"));
  EXPECT_TRUE(choose({"FAN1", "", 0}, closed));
}

TEST(Choose, TakesAChipByNamePathOrLabel) {
  for (const char* chip : {"gpiochip0", "/dev/gpiochip0", "pinctrl-soc"}) {
    const auto place = choose({"", chip, 1}, board());
    ASSERT_TRUE(place) << chip;
    EXPECT_EQ(*place, (Place{"/dev/gpiochip0", 1, "gpiochip0, line 1"}));
  }
  EXPECT_EQ(choose({"", "gpiochip0", 2}, board())->told, "FAN1 (gpiochip0, line 2)");
}

TEST(Choose, RefusesALabelOfTwoChips) {
  const auto place = choose({"", "expander", 0}, board());
  ASSERT_FALSE(place);
  EXPECT_EQ(place.error().code, ErrorCode::refused);
  EXPECT_EQ(place.error().text,
            "more than one chip is 'expander' (/dev/gpiochip1, /dev/gpiochip2): give chip as one "
            "of these");
}

TEST(Choose, RefusesALineBeyondTheChip) {
  const auto place = choose({"", "gpiochip1", 3}, board());
  ASSERT_FALSE(place);
  EXPECT_EQ(place.error().text, "offset is 3; gpiochip1 'expander' has 3 lines, counted from 0");
}

TEST(Choose, SaysThatThereIsNoChip) {
  EXPECT_EQ(choose({"FAN1", "", 0}, {}).error().text,
            "no line is named 'FAN1'; this board shows no GPIO chip");
  EXPECT_EQ(choose({"", "gpiochip0", 0}, {}).error().text,
            "no chip is 'gpiochip0'; this board shows no GPIO chip");
  EXPECT_EQ(choose({"", "gpiochip7", 0}, board()).error().text,
            "no chip is 'gpiochip7'; there are: gpiochip0 'pinctrl-soc', gpiochip1 'expander', "
            "gpiochip2 'expander'");
}

using Options = std::map<std::string, std::string>;

Result<LineWiring> read(Options given) {
  given.insert({{"active_low", "false"}, {"bias", "as_is"}, {"drive", "push_pull"}});
  return read_wiring([&](const char* name) { return given[name]; });
}

TEST(Wiring, ReadsANameWithItsManner) {
  const auto wiring = read(
      {{"line", "FAN1"}, {"active_low", "true"}, {"bias", "pull_up"}, {"drive", "open_drain"}});
  ASSERT_TRUE(wiring);
  EXPECT_EQ(wiring->wanted.line, "FAN1");
  EXPECT_TRUE(wiring->manner.active_low);
  EXPECT_EQ(wiring->manner.bias, Bias::pull_up);
  EXPECT_EQ(wiring->manner.drive, Drive::open_drain);
}

TEST(Wiring, ReadsAChipAndAnOffset) {
  const auto wiring = read({{"chip", "gpiochip0"}, {"offset", "17"}});
  ASSERT_TRUE(wiring);
  EXPECT_EQ(wiring->wanted.chip, "gpiochip0");
  EXPECT_EQ(wiring->wanted.offset, 17u);
  EXPECT_FALSE(wiring->manner.active_low);
}

TEST(Wiring, WantsALineOrAChipWithItsOffset) {
  const std::vector<Options> wrong = {{},
                                      {{"chip", "gpiochip0"}},
                                      {{"offset", "3"}},
                                      {{"line", "FAN1"}, {"chip", "gpiochip0"}},
                                      {{"line", "FAN1"}, {"offset", "3"}}};
  for (const Options& options : wrong) {
    const auto wiring = read(options);
    ASSERT_FALSE(wiring);
    EXPECT_EQ(wiring.error().text,
              "wiring: give line (a line's name), or chip and offset, and not both");
  }
}

TEST(Wiring, NamesTheWrongValueAndWhatIsAllowed) {
  const std::vector<std::pair<Options, std::string>> wrong = {
      {{{"chip", "c"}, {"offset", "-1"}}, "wiring: offset is '-1'; allowed: 0 to 65535"},
      {{{"chip", "c"}, {"offset", "65536"}}, "wiring: offset is '65536'; allowed: 0 to 65535"},
      {{{"chip", "c"}, {"offset", "3 "}}, "wiring: offset is '3 '; allowed: 0 to 65535"},
      {{{"line", "F"}, {"active_low", "low"}}, "wiring: active_low is 'low'; allowed: true, false"},
      {{{"line", "F"}, {"bias", "up"}},
       "wiring: bias is 'up'; allowed: as_is, none, pull_up, pull_down"},
      {{{"line", "F"}, {"drive", "hard"}},
       "wiring: drive is 'hard'; allowed: push_pull, open_drain, open_source"}};
  for (const auto& [options, text] : wrong) {
    const auto wiring = read(options);
    ASSERT_FALSE(wiring);
    EXPECT_EQ(wiring.error().text, text);
  }
}

}  // namespace
}  // namespace tubwarden::gpio
