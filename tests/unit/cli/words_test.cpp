#include "programs/cli/words.hpp"

#include <gmock/gmock.h>

#include "samples.hpp"

namespace {

using namespace tubwarden::cli;
using cli_test::lines_of;
using ::testing::HasSubstr;

const Defaults kDefaults{"/run/default.sock", "/lib/plugins", "/bin/host"};

Command said(const std::vector<std::string>& words) { return understand(words, kDefaults); }

Ask ask_of(const std::vector<std::string>& words) {
  const Command command = said(words);
  const Ask* ask = std::get_if<Ask>(&command.wanted);
  EXPECT_NE(ask, nullptr) << words[0];
  return ask ? *ask : Ask{};
}

std::string wrong(const std::vector<std::string>& words) {
  const Command command = said(words);
  const Told* told = std::get_if<Told>(&command.wanted);
  EXPECT_NE(told, nullptr);
  if (!told) return "";
  EXPECT_EQ(told->status, 2);
  return told->text;
}

TEST(Words, EachCommandAsksItsQuestion) {
  struct Row {
    std::vector<std::string> words;
    std::string what, args;
    Shown (*show)(const std::string&, const Look&);
  };
  const std::vector<Row> rows = {
      {{"status"}, "status", "{}", show_status},
      {{"why", "tub-1"}, "why", R"({"tub":"tub-1"})", show_why},
      {{"why", "tub-1", "fan"}, "why", R"({"tub":"tub-1","actuator":"fan"})", show_why},
      {{"phase", "tub-1", "casing"},
       "phase",
       R"({"tub":"tub-1","phase":"casing","note":""})",
       show_done},
      {{"phase", "tub-1", "casing", "--note", "all \"white\""},
       "phase",
       R"({"tub":"tub-1","phase":"casing","note":"all \"white\""})",
       show_done},
      {{"batch", "show", "B-07"}, "batch", R"({"batch":"B-07"})", show_batch},
      {{"batch", "list"}, "batches", "{}", show_batches},
      {{"alerts"}, "alerts", "{}", show_alerts},
      {{"outputs"}, "outputs", "{}", show_outputs},
      {{"outputs", "release", "tub-1", "mat"},
       "release",
       R"({"tub":"tub-1","id":"mat"})",
       show_done},
      {{"attend", "tub-1", "20m"}, "attend", R"({"tub":"tub-1","for":"20m"})", show_done},
      {{"attend", "tub-1", "end"}, "attend", R"({"tub":"tub-1","for":"end"})", show_done},
      {{"keep-at", "tub-1", "fan", "rest", "30m"},
       "keep_at",
       R"({"tub":"tub-1","actuator":"fan","level":"rest","for":"30m"})",
       show_done},
      {{"keep-at", "tub-1", "fan", "end"},
       "keep_at",
       R"({"tub":"tub-1","actuator":"fan","level":"end","for":""})",
       show_done},
      {{"note", "tub-1", "status", "of", "pins"},
       "note",
       R"({"tub":"tub-1","text":"status of pins"})",
       show_done},
  };
  for (const Row& row : rows) {
    const Ask ask = ask_of(row.words);
    EXPECT_EQ(ask.what, row.what);
    EXPECT_EQ(ask.args_json, row.args);
    EXPECT_EQ(ask.show, row.show) << row.what;
    EXPECT_FALSE(ask.watch);
  }
  EXPECT_TRUE(ask_of({"status", "--watch"}).watch);
}

TEST(Words, SocketAndJsonStandAnywhere) {
  for (const std::vector<std::string>& words :
       {std::vector<std::string>{"--socket", "/s", "--json", "batch", "show", "B-07"},
        {"batch", "show", "B-07", "--json", "--socket", "/s"},
        {"batch", "--socket=/s", "show", "--json", "B-07"}}) {
    const Command command = said(words);
    EXPECT_EQ(command.socket, "/s");
    EXPECT_TRUE(command.json);
    EXPECT_TRUE(std::holds_alternative<Ask>(command.wanted));
  }
  EXPECT_EQ(said({"alerts"}).socket, "/run/default.sock");
  EXPECT_FALSE(said({"alerts"}).json);
}

TEST(Words, CheckNamesItsFolderAndPlaces) {
  const auto check = [](const std::vector<std::string>& words) {
    return std::get<CheckFolder>(said(words).wanted);
  };
  EXPECT_EQ(check({"check"}).folder, "/etc/tubwarden");
  EXPECT_EQ(check({"check"}).plugins, "/lib/plugins");
  EXPECT_EQ(check({"check"}).host, "/bin/host");
  EXPECT_EQ(check({"check", "mine", "--plugins", "/p"}).folder, "mine");
  EXPECT_EQ(check({"check", "mine", "--plugins", "/p"}).plugins, "/p");
}

TEST(Words, WrongOnesAreOneSentenceWithTheNearestKnown) {
  EXPECT_THAT(wrong({"statsu"}), HasSubstr("no command 'statsu'; the nearest is 'status'"));
  EXPECT_THAT(wrong({"xyzzy"}),
              HasSubstr("there are: status, why, history, phase, note, move, "
                        "water, refill, today, trace, forecast, undo, done, culture, sterilise, "
                        "jar, substrate, spawn, case, pins, harvest, clean, contaminated, attend, "
                        "keep-at, try, drill, batch, alerts, "));
  EXPECT_THAT(wrong({"batch", "lst"}), HasSubstr("the nearest is 'list'"));
  EXPECT_THAT(wrong({"outputs", "relase", "tub-1", "mat"}), HasSubstr("nearest is 'release'"));
  EXPECT_THAT(wrong({"status", "--wach"}),
              HasSubstr("no option '--wach'; the nearest is '--watch'"));
  EXPECT_THAT(wrong({"alerts", "--jsn"}), HasSubstr("the nearest is '--json'"));
  EXPECT_THAT(wrong({"--sokcet", "/s", "alerts"}), HasSubstr("the nearest is '--socket'"));
  EXPECT_THAT(wrong({}), HasSubstr("needs a command"));
  EXPECT_THAT(wrong({"batch"}),
              HasSubstr("tubwarden batch needs a command; there are: show, climate, list"));
  EXPECT_THAT(wrong({"why"}), HasSubstr("TUB is required; see: tubwarden why --help"));
  EXPECT_THAT(wrong({"why", "a", "b", "c"}), HasSubstr("has no use for 'c'"));
  EXPECT_THAT(wrong({"phase", "tub-1"}), HasSubstr("PHASE is required"));
  EXPECT_THAT(wrong({"note", "tub-1"}), HasSubstr("WORDS"));
  EXPECT_THAT(wrong({"keep-at", "tub-1", "fan", "rest"}), HasSubstr("a hold has an end"));
  EXPECT_THAT(wrong({"drill", "tub-1", "--cut", "power"}), HasSubstr("power"));
  EXPECT_THAT(wrong({"--socket"}), HasSubstr("--socket"));
}

TEST(Words, EveryHelpHasAnExampleAndFits80Columns) {
  for (const std::vector<std::string>& words : {std::vector<std::string>{},
                                                {"status"},
                                                {"why"},
                                                {"history"},
                                                {"move"},
                                                {"water"},
                                                {"phase"},
                                                {"note"},
                                                {"attend"},
                                                {"keep-at"},
                                                {"try"},
                                                {"drill"},
                                                {"batch"},
                                                {"batch", "show"},
                                                {"batch", "list"},
                                                {"alerts"},
                                                {"alerts", "seen"},
                                                {"alerts", "quiet"},
                                                {"alerts", "off"},
                                                {"alerts", "history"},
                                                {"alerts", "test"},
                                                {"outputs"},
                                                {"outputs", "release"},
                                                {"check"},
                                                {"listen"}}) {
    std::vector<std::string> asked = words;
    asked.push_back("--help");
    const Command command = said(asked);
    const Told* told = std::get_if<Told>(&command.wanted);
    ASSERT_NE(told, nullptr);
    EXPECT_EQ(told->status, 0);
    std::string name = "tubwarden";
    for (const std::string& word : words) name += " " + word;
    EXPECT_THAT(told->text, HasSubstr("Example:\n  tubwarden "));
    EXPECT_THAT(told->text, HasSubstr("Usage: " + name + " "));
    EXPECT_THAT(told->text, HasSubstr("--json"));
    for (const std::string& line : lines_of(told->text)) {
      EXPECT_LE(columns(line), 80u) << line;
    }
  }
}

TEST(Words, BytesThatAreNoTextStillMakeAQuestion) {
  EXPECT_EQ(ask_of({"note", "tub-1", "caf\xe9"}).args_json,
            "{\"tub\":\"tub-1\",\"text\":\"caf\xef\xbf\xbd\"}");
}

}  // namespace
