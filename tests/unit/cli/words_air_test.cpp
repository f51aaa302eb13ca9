// The words of an air and its past: what they ask, and which are wrong.
#include "programs/cli/words_air.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

WallTime at(const char* text) { return *parse_rfc3339(text); }

/// Central Europe's autumn of 2026 (directive 2000/84/EC).
Duration europe(WallTime t) { return t < at("2026-10-25T01:00:00Z") ? hours(2) : hours(1); }

Command said(const std::vector<std::string>& words) {
  Defaults defaults{"/run/default.sock", "/lib/plugins", "/bin/host"};
  defaults.now = at("2026-11-25T12:00:00Z");
  defaults.zone = europe;
  return understand(words, defaults);
}

std::string wrong(const std::vector<std::string>& words) {
  const Command command = said(words);
  const Told* told = std::get_if<Told>(&command.wanted);
  return told && told->status == 2 ? told->text : "";
}

struct Row {
  std::vector<std::string> words;
  std::string what, args;
  Shown (*show)(const std::string&, const Look&);
};

TEST(WordsAir, EachAsksItsQuestion) {
  const std::vector<Row> rows = {
      {{"why", "tub-1", "--last"}, "decisions", R"({"tub":"tub-1","limit":50.0})", show_decisions},
      {{"why", "tub-1", "fan", "--last", "500"},
       "decisions",
       R"({"tub":"tub-1","actuator":"fan","limit":500.0})",
       show_decisions},
      {{"why", "--last=1", "tub-1"}, "decisions", R"({"tub":"tub-1","limit":1.0})", show_decisions},
      {{"why", "tub-1", "--at", "04:30"},
       "why_at",
       R"({"tub":"tub-1","at":"2026-11-25T03:30:00.000Z"})",
       show_why_at},
      {{"why", "tub-1", "fan", "--at", "2h"},
       "why_at",
       R"({"tub":"tub-1","actuator":"fan","at":"2026-11-25T10:00:00.000Z"})",
       show_why_at},
      {{"move", "tub-1", "closet"}, "move", R"({"tub":"tub-1","chamber":"closet"})", show_done},
      {{"water", "tub-1", "200", "mL"},
       "water",
       R"({"tub":"tub-1","millilitres":200.0})",
       show_done},
      {{"water", "tub-1", "1.5L"}, "water", R"({"tub":"tub-1","millilitres":1500.0})", show_done},
      {{"water", "tub-1"}, "book", R"({"tub":"tub-1"})", show_book},
      {{"refill", "tub-1", "mister"},
       "refill",
       R"({"tub":"tub-1","actuator":"mister"})",
       show_done},
  };
  for (const Row& row : rows) {
    const Command command = said(row.words);
    const Ask* ask = std::get_if<Ask>(&command.wanted);
    ASSERT_NE(ask, nullptr) << row.what << row.args;
    EXPECT_EQ(ask->what, row.what);
    EXPECT_EQ(ask->args_json, row.args);
    EXPECT_EQ(ask->show, row.show);
    EXPECT_THAT(command.notes, IsEmpty());
  }
}

HistoryWish history(const std::vector<std::string>& words) {
  const Command command = said(words);
  const HistoryWish* wish = std::get_if<HistoryWish>(&command.wanted);
  EXPECT_NE(wish, nullptr) << words.back();
  return wish ? *wish : HistoryWish{};
}

TEST(WordsAir, HistoryIsOfTheLastDayUnlessSaid) {
  const HistoryWish plain = history({"history", "B-07"});
  EXPECT_EQ(plain.of, "B-07");
  EXPECT_EQ(plain.to, at("2026-11-25T12:00:00Z"));
  EXPECT_EQ(plain.from, at("2026-11-24T12:00:00Z"));
  EXPECT_FALSE(plain.every);
  EXPECT_FALSE(plain.csv);
  const HistoryWish some = history({"history", "tub-1", "--from", "2026-11-20", "--to",
                                    "2026-11-21 06:00", "--every", "1h 30m", "--csv"});
  EXPECT_EQ(some.from, at("2026-11-19T23:00:00Z"));
  EXPECT_EQ(some.to, at("2026-11-21T05:00:00Z"));
  EXPECT_EQ(some.every, minutes(90));
  EXPECT_TRUE(some.csv);
  EXPECT_EQ(history({"history", "tub-1", "--to", "2026-11-20"}).from, at("2026-11-18T23:00:00Z"));
}

TEST(WordsAir, AnHourThatCameTwiceIsNotedOnStandardError) {
  const Command command = said({"why", "tub-1", "--at", "2026-10-25 02:30"});
  ASSERT_NE(std::get_if<Ask>(&command.wanted), nullptr);
  EXPECT_THAT(command.notes, ElementsAre(HasSubstr("02:30 came twice on 2026-10-25")));
}

TEST(WordsAir, WrongOnesSayWhatIsAllowed) {
  EXPECT_THAT(wrong({"why", "tub-1", "--last", "0"}), HasSubstr("from 1 to 500"));
  EXPECT_THAT(wrong({"why", "tub-1", "--last", "501"}), HasSubstr("from 1 to 500"));
  EXPECT_THAT(wrong({"why", "tub-1", "--last", "2.5"}), HasSubstr("from 1 to 500"));
  EXPECT_THAT(wrong({"why", "tub-1", "--last", "ten"}), HasSubstr("'ten' is no number"));
  EXPECT_THAT(wrong({"why", "tub-1", "--at", "noon"}), HasSubstr("--at: 'noon' is no time"));
  EXPECT_THAT(wrong({"why", "tub-1", "--at", "2h", "--last"}), HasSubstr("exclude each other"));
  EXPECT_THAT(wrong({"history"}), HasSubstr("NAME is required"));
  EXPECT_THAT(wrong({"history", "tub-1", "--from", "1h", "--to", "2h"}),
              HasSubstr("--from: is not before --to"));
  EXPECT_THAT(wrong({"history", "tub-1", "--every", "5"}), HasSubstr("a duration with its unit"));
  EXPECT_THAT(wrong({"history", "tub-1", "--every", "500ms"}), HasSubstr("at least 1s"));
  EXPECT_THAT(wrong({"history", "tub-1", "--csv", "--json"}), HasSubstr("exclude each other"));
  EXPECT_THAT(wrong({"move", "tub-1"}), HasSubstr("tub-1 closet"));
  EXPECT_THAT(wrong({"refill", "tub-1"}), HasSubstr("MISTER is required"));
  EXPECT_THAT(wrong({"water", "tub-1", "a", "cup"}), HasSubstr("'a cup' is no amount of water"));
}

TEST(WordsAir, WaterInItsUnits) {
  const std::pair<const char*, double> good[] = {
      {"200 mL", 200}, {"200mL", 200},  {"0.2 L", 200},     {"200 g", 200},
      {"1 mL", 1},     {"20 L", 20000}, {"20000 g", 20000}, {"2 kg", 2000},
  };
  for (const auto& [text, millilitres] : good) {
    const auto water = parse_water(text);
    ASSERT_TRUE(water.ok()) << text;
    EXPECT_DOUBLE_EQ(*water, millilitres) << text;
  }
  for (const char* text : {"", "200", "mL", "200 oz", "200 mL 3", "inf mL", "nan mL", "0x10 mL"}) {
    EXPECT_THAT(parse_water(text).error().text, HasSubstr("allowed: 200 mL, 1.5 L or 200 g"))
        << text;
  }
  EXPECT_THAT(parse_water("0.9 mL").error().text, HasSubstr("too little; allowed: 1 mL to 20 L"));
  EXPECT_THAT(parse_water("-5 mL").error().text, HasSubstr("too little"));
  EXPECT_THAT(parse_water("20.1 L").error().text, HasSubstr("too much"));
}

}  // namespace
