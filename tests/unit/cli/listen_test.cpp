// What `listen` keeps of what it hears, and the page it makes of it.
#include "programs/cli/listen.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "samples.hpp"

namespace {

using namespace tubwarden::cli;
using cli_test::lines_of;
using nlohmann::json;
using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;
using tubwarden::Duration;
using tubwarden::GuessedPlace;
using tubwarden::Instant;
using tubwarden::milliseconds;
using tubwarden::seconds;

Instant at(double s) { return Instant(milliseconds(static_cast<long long>(s * 1000))); }

Overheard cellar() {
  Overheard heard;
  heard.url = "mqtt://127.0.0.1:1883";
  heard.lasted = seconds(30);
  for (int i = 0; i < 15; ++i) {
    heard.book.hear("cellar/tub-1/air", R"({"rh":87.2,"t":16.9,"co2":840})", false, at(2 * i));
  }
  heard.book.hear("cellar/tub-1/bed", "62.4", true, at(0));
  heard.book.hear("cellar/probe", R"({"t":16.9})", false, at(1));
  return heard;
}

Look narrow(int width) {
  Look look;
  look.width = width;
  return look;
}

TEST(ListenBook, TellsLiveFromKeptAndTheRhythm) {
  const ListenBook book = cellar().book;
  const HeardTopic& air = book.topics().at("cellar/tub-1/air");
  EXPECT_EQ(air.live, 15u);
  EXPECT_FALSE(air.retained);
  EXPECT_EQ(air.every(), Duration(seconds(2)));
  const HeardTopic& bed = book.topics().at("cellar/tub-1/bed");
  EXPECT_EQ(bed.live, 0u);
  EXPECT_TRUE(bed.retained);
  EXPECT_FALSE(bed.every());
  EXPECT_FALSE(book.topics().at("cellar/probe").every()) << "one message has no rhythm";
  EXPECT_EQ(book.messages(), 17u);
}

TEST(ListenBook, LimitsAreKeptAndCounted) {
  ListenBook book;
  for (std::size_t i = 0; i < ListenBook::kTopicsMax + 7; ++i) {
    book.hear("t/" + std::to_string(i), "1", false, at(0));
  }
  EXPECT_EQ(book.topics().size(), ListenBook::kTopicsMax);
  EXPECT_EQ(book.passed_over(), 7u);
  book.hear("t/1", "2", false, at(1));
  EXPECT_EQ(book.topics().at("t/1").payload, "2") << "a known topic is heard on";
  EXPECT_EQ(book.passed_over(), 7u);

  ListenBook long_ones;
  long_ones.hear(std::string(ListenBook::kTopicBytesMax + 1, 't'), "1", false, at(0));
  EXPECT_EQ(long_ones.passed_over(), 1u);
  long_ones.hear("t", std::string(ListenBook::kPayloadBytesMax + 1, '1'), false, at(0));
  EXPECT_EQ(long_ones.topics().at("t").payload.size(), ListenBook::kPayloadBytesMax);
  EXPECT_TRUE(long_ones.topics().at("t").cut);
}

TEST(ListenBook, OwnWordsAreCountedAndTheBrokersAreNot) {
  ListenBook book;
  book.hear("tubwarden/cellar/awake", "{}", true, at(0));
  book.hear("$SYS/broker/uptime", "1", true, at(0));
  EXPECT_TRUE(book.topics().empty());
  EXPECT_EQ(book.ours(), 1u);
  EXPECT_EQ(book.messages(), 1u);
}

TEST(ShowListen, APageOfTopicsAndTheLinesToPaste) {
  const std::string page = show_overheard(cellar(), {}, narrow(80));
  EXPECT_THAT(page, AllOf(HasSubstr("mqtt://127.0.0.1:1883: 17 messages on 3 topics in 30s\n"),
                          HasSubstr("each 2s, 15 heard\n  {\"rh\":87.2,\"t\":16.9,\"co2\":840}\n"),
                          HasSubstr("kept by the broker, none live\n  62.4\n"),
                          HasSubstr("maybe substrate temperature in F"),
                          HasSubstr("    - id: air\n      topic: cellar/tub-1/air\n"),
                          HasSubstr("place: says what a thermometer measures"),
                          HasSubstr("What is behind # is a guess")));
  Listen told;
  told.place = GuessedPlace::air;
  EXPECT_THAT(show_overheard(cellar(), told, narrow(80)), Not(HasSubstr("place: says")));
}

TEST(ShowListen, FitsANarrowWindowButForWhatIsCopied) {
  for (const int width : {40, 80}) {
    const std::string page = show_overheard(cellar(), {}, narrow(width));
    for (const std::string& line : lines_of(page)) {
      if (line.starts_with("    ")) continue;  // lines to paste stay whole
      EXPECT_LE(columns(line), static_cast<std::size_t>(width)) << line;
    }
  }
}

TEST(ShowListen, SilenceSaysWhatToDo) {
  Overheard heard;
  heard.url = "mqtt://127.0.0.1:1883";
  heard.lasted = seconds(30);
  EXPECT_THAT(show_overheard(heard, {}, narrow(80)),
              AllOf(HasSubstr("0 messages on 0 topics"), HasSubstr("No sensor was heard")));
}

TEST(ShowListen, WhatWasNotLookedAtIsSaid) {
  Overheard heard = cellar();
  heard.dropped = 12;
  heard.lost = "connection lost";
  heard.book.hear("tubwarden/cellar/awake", "{}", true, at(0));
  for (std::size_t i = 0; i < ListenBook::kTopicsMax; ++i) {
    heard.book.hear("t/" + std::to_string(i), "1", false, at(0));
  }
  EXPECT_THAT(show_overheard(heard, {}, narrow(80)),
              AllOf(HasSubstr("12 came too fast"), HasSubstr("meanwhile: connection lost"),
                    HasSubstr("1 under tubwarden/"), HasSubstr("3 on topics beyond the first")));
}

TEST(ShowListen, TextFromTheBrokerIsMadeHarmless) {
  Overheard heard;
  heard.book.hear("evil\x1b[2J", "\x1b]0;x\a{\"rh\":50}", false, at(0));
  heard.book.hear("evil\x1b[2J/x", "{\"rh\":50}", false, at(0));
  EXPECT_THAT(show_overheard(heard, {}, narrow(80)), Not(HasSubstr("\x1b")));
}

TEST(ShowListen, JsonHasTopicsNumbersAndLines) {
  const json told = json::parse(overheard_json(cellar(), {}));
  EXPECT_EQ(told["messages"], 17);
  ASSERT_EQ(told["topics"].size(), 3u);
  const json& air = told["topics"][1];
  EXPECT_EQ(air["topic"], "cellar/tub-1/air");
  EXPECT_EQ(air["every_s"], 2.0);
  EXPECT_EQ(air["numbers"][0]["at"], "/rh");
  EXPECT_EQ(air["numbers"][0]["looks"]["quantity"], "humidity");
  EXPECT_EQ(told["topics"][2]["numbers"][0]["looks"]["maybe"], true);
  ASSERT_EQ(told["sensors"].size(), 3u);
  EXPECT_EQ(told["sensors"][1]["sure"], true);
  EXPECT_EQ(told["sensors"][2]["sure"], false);
  EXPECT_TRUE(told["lost"].is_null());
  Overheard broken;
  broken.book.hear("x", "\xff\xfe", false, at(0));
  EXPECT_TRUE(json::accept(overheard_json(broken, {}))) << "bytes that are no UTF-8";
}

TEST(ListenWords, AreUnderstood) {
  const Command command =
      understand({"listen", "--broker", "mqtt://h:1", "--for", "5m", "--under", "cellar", "--place",
                  "substrate", "--user-file", "/u", "--json"},
                 {});
  const Listen* listen = std::get_if<Listen>(&command.wanted);
  ASSERT_NE(listen, nullptr);
  EXPECT_TRUE(command.json);
  EXPECT_EQ(listen->broker, "mqtt://h:1");
  EXPECT_EQ(listen->length, tubwarden::minutes(5));
  EXPECT_EQ(listen->under, "cellar");
  EXPECT_EQ(listen->place, GuessedPlace::substrate);
  EXPECT_EQ(listen->user_file, "/u");
  for (const char* bad : {"0s", "2h", "30", "x"}) {
    const Command refused = understand({"listen", "--for", bad}, {});
    const Told* told = std::get_if<Told>(&refused.wanted);
    ASSERT_NE(told, nullptr) << bad;
    EXPECT_EQ(told->status, 2);
    EXPECT_THAT(told->text, HasSubstr("no time from 1s to 1h"));
  }
}

}  // namespace
