// The words of the grow record: what they ask, and which are wrong.
#include "programs/cli/words_grow.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "base/text.hpp"

namespace {

using namespace tubwarden;
using namespace tubwarden::cli;
using testing::ElementsAre;
using testing::HasSubstr;

Command entered(const std::vector<std::string>& words) {
  Defaults defaults{"/run/default.sock", "/lib/plugins", "/bin/host"};
  defaults.now = *parse_rfc3339("2026-11-25T12:00:00Z");
  return understand(words, defaults);
}

std::string not_understood(const std::vector<std::string>& words) {
  const Command command = entered(words);
  const Told* told = std::get_if<Told>(&command.wanted);
  return told && told->status == 2 ? told->text : "";
}

struct Act {
  std::vector<std::string> words;
  std::string what, args;
};

TEST(WordsGrow, EachAsksWhatTheDaemonAnswers) {
  const std::vector<Act> acts = {
      {{"culture", "receive", "LC-2", "--volume", "0.5 L", "--strain", "A15"},
       "culture_receive",
       R"({"culture":"LC-2","strain":"A15","source":"","millilitres":500.0})"},
      {{"culture", "discard", "LC-2", "--why", "cloudy"},
       "culture_discard",
       R"({"culture":"LC-2","why":"cloudy"})"},
      {{"sterilise", "S-3", "--hold", "90m", "--gauge", "100kPa", "--f0", "12.5min"},
       "sterilise",
       R"({"run":"S-3","hold":"90m","what":"","gauge_kpa":100.0,"f0_minutes":12.5})"},
      {{"jar", "add", "--batch", "B-07", "--count", "5", "--culture", "LC-2", "--dose", "1mL",
        "--fill", "0.3kg"},
       "jar_add",
       R"({"batch":"B-07","lid":"vented","count":5.0,"culture":"LC-2","dose_ml":1.0,)"
       R"("fill_g":300.0})"},
      {{"jar", "add", "--batch", "B-07", "--id", "J-8..J-9", "--lid", "closed"},
       "jar_add",
       R"({"batch":"B-07","lid":"closed","jars":["J-8","J-9"]})"},
      {{"jar", "look", "J-1..J-3", "J-7", "25%"},
       "jar_look",
       R"({"jars":["J-1","J-2","J-3","J-7"],"grown_pct":25.0})"},
      {{"jar", "contaminated", "J-3", "green", "patch"},
       "jar_contaminated",
       R"({"jar":"J-3","seen":"green patch"})"},
      {{"spawn", "tub-1", "--jars", "J-1..J-2", "J-4", "--mix", "M-4", "--substrate", "5kg",
        "--surface", "0.24m2"},
       "spawn",
       R"({"tub":"tub-1","jars":["J-1","J-2","J-4"],"mix":"M-4","substrate_kg":5.0,)"
       R"("surface_m2":0.24})"},
      {{"case", "tub-1", "--depth", "4cm"}, "case", R"({"tub":"tub-1","with":"","depth_mm":40.0})"},
      {{"harvest", "tub-1", "1.5", "kg", "--count", "31"},
       "harvest",
       R"({"tub":"tub-1","count":31.0,"grams":1500.0})"},
      {{"move", "J-1..J-2", "jars"},
       "move",
       R"({"tub":"J-1","chamber":"jars","jars":["J-1","J-2"]})"},
      {{"undo", "last"}, "undo", R"({"last":true})"},
      {{"undo", "42", "43"}, "undo", R"({"entries":[42,43]})"},
      {{"trace", "LC-2"}, "trace", R"({"of":"LC-2"})"},
      {{"forecast", "tub-1"}, "forecast", R"({"of":"tub-1"})"},
      {{"today"}, "today", "{}"},
  };
  for (const Act& act : acts) {
    const Command command = entered(act.words);
    const Ask* ask = std::get_if<Ask>(&command.wanted);
    ASSERT_TRUE(ask) << testing::PrintToString(act.words) << not_understood(act.words);
    EXPECT_EQ(ask->what, act.what);
    EXPECT_EQ(ask->args_json, act.args);
  }
}

TEST(WordsGrow, EveryActTakesItsTimeANoteAndAPicture) {
  const Command command =
      entered({"pins", "tub-1", "--on", "2h", "--note", "at the edge", "--photo", "/p/1.jpg"});
  const Ask* ask = std::get_if<Ask>(&command.wanted);
  ASSERT_TRUE(ask);
  EXPECT_EQ(ask->args_json,
            R"({"tub":"tub-1","on":"2026-11-25T10:00:00.000Z","note":"at the edge",)"
            R"("photo":"/p/1.jpg"})");
}

TEST(WordsGrow, WrongWordsNameWhatIsAllowed) {
  EXPECT_THAT(not_understood({"jar", "look", "J-1"}), HasSubstr("J-3 25%"));
  EXPECT_THAT(not_understood({"jar", "look", "J-1", "much"}), HasSubstr("allowed: 25%"));
  EXPECT_THAT(not_understood({"jar", "shake", "J-5..J-1"}), HasSubstr("J-1..J-5"));
  EXPECT_THAT(not_understood({"jar", "shake", "J-1..J-9999"}), HasSubstr("500 at once"));
  EXPECT_THAT(not_understood({"jar", "add", "--batch", "B-1", "--culture", "LC-2"}),
              HasSubstr("--dose"));
  EXPECT_THAT(not_understood({"jar", "add", "--batch", "B-1", "--count", "2", "--id", "J-1"}),
              HasSubstr("exclude each other"));
  EXPECT_THAT(not_understood({"harvest", "tub-1", "420"}), HasSubstr("has no unit"));
  EXPECT_THAT(not_understood({"undo", "yesterday"}), HasSubstr("allowed: last"));
  EXPECT_THAT(not_understood({"pins", "tub-1", "--on", "soon"}), HasSubstr("HH:MM"));
  EXPECT_THAT(not_understood({"move", "tub-1"}), HasSubstr("tub-1 closet"));
}

TEST(WordsGrow, RangesAreWrittenOut) {
  EXPECT_THAT(*spread({"J-9..J-11", "x"}), ElementsAre("J-9", "J-10", "J-11", "x"));
  for (const char* wrong : {"J-1..K-3", "J-1..", "..J-3", "J-01..J-03", "J..K"}) {
    EXPECT_FALSE(spread({wrong}).ok()) << wrong;
  }
}

}  // namespace
