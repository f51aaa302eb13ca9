#include "core/ledger/tasks.hpp"

#include <gmock/gmock.h>

#include "unit/ledger/grower.hpp"

namespace tubwarden {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

class TasksTest : public ::testing::Test {
 protected:
  std::vector<Task> today(const std::string& day) {
    facts.now = day_of(day);
    return tasks(grower.book, facts);
  }
  std::vector<std::string> told_on(const std::string& day) {
    std::vector<std::string> lines;
    for (const Task& task : today(day)) lines.push_back(task.text);
    return lines;
  }

  Grower grower;
  TaskFacts facts;
};

TEST_F(TasksTest, NothingIsDueInAnEmptyHouse) { EXPECT_THAT(today("2026-03-01"), IsEmpty()); }

TEST_F(TasksTest, AJarIsLookedAtFromTheFifthDayAndAgainAfterThree) {
  grower.inoculates(5);  // on the 2nd
  EXPECT_THAT(told_on("2026-03-06"), IsEmpty());
  const auto due = today("2026-03-07");
  ASSERT_EQ(due.size(), 1u);
  EXPECT_EQ(due[0].text, "look at J-1 to J-5");
  EXPECT_EQ(due[0].command, "tubwarden jar look J-1..J-5 PERCENT");
  EXPECT_EQ(*due[0].due, day_of("2026-03-07"));
  grower.does("2026-03-07", JarLookedAt{"J-1", 5.0});
  EXPECT_THAT(told_on("2026-03-08"), ElementsAre("look at J-2 to J-5"));
  EXPECT_THAT(told_on("2026-03-10"), ElementsAre("look at J-1 to J-5"));
}

TEST_F(TasksTest, AForecastBringsALookForward) {
  grower.inoculates(1);
  grower.does("2026-03-07", JarLookedAt{"J-1", 10.0});
  facts.jars["J-1"].shake_from = day_of("2026-03-08");
  EXPECT_THAT(told_on("2026-03-07"), IsEmpty());
  EXPECT_THAT(told_on("2026-03-08"), ElementsAre("look at J-1"));
}

TEST_F(TasksTest, AJarIsShakenFromAFifthAndOnce) {
  grower.inoculates(2);
  grower.does("2026-03-09", JarLookedAt{"J-1", 19.0});
  grower.does("2026-03-09", JarLookedAt{"J-2", 25.0});
  EXPECT_THAT(told_on("2026-03-09"), ElementsAre("shake J-2: 20 to 30 % grown through"));
  grower.does("2026-03-09", JarShaken{"J-2"});
  EXPECT_THAT(told_on("2026-03-09"), IsEmpty());
  grower.does("2026-03-10", JarLookedAt{"J-1", 40.0});
  const auto late = today("2026-03-10");
  ASSERT_EQ(late.size(), 1u);
  EXPECT_TRUE(late[0].late);
  EXPECT_EQ(late[0].text, "shake J-1 now: past 30 % grown through");
  EXPECT_EQ(late[0].command, "tubwarden jar shake J-1");
  grower.does("2026-03-11", JarLookedAt{"J-1", 70.0});
  EXPECT_THAT(told_on("2026-03-11"), IsEmpty()) << "it is left to finish";
}

TEST_F(TasksTest, AJarThatIsGrownThroughIsMixedAndOneThatIsNotInTimeIsLookedInto) {
  grower.inoculates(3);
  grower.does("2026-03-30", JarLookedAt{"J-1", 100.0});
  grower.does("2026-03-31", JarLookedAt{"J-2", 60.0});
  grower.does("2026-03-31", JarLookedAt{"J-3", 65.0});
  const auto due = today("2026-04-01");  // the thirtieth day
  ASSERT_EQ(due.size(), 2u);
  EXPECT_TRUE(due[0].late) << "what is late comes first";
  EXPECT_THAT(due[0].text, HasSubstr("J-2 and J-3 are not grown through after 30d"));
  EXPECT_EQ(due[1].text, "J-1 is grown through: ready to mix into substrate");
  facts.grain["B-07"] = {days(14), days(21), days(35)};
  EXPECT_EQ(today("2026-04-01").size(), 1u) << "its profile gives it more time";
}

TEST_F(TasksTest, AContaminatedJarIsNamedUntilItIsGone) {
  grower.inoculates(1);
  grower.does("2026-03-05", JarContaminated{"J-1", "green"});
  const auto due = today("2026-03-05");
  ASSERT_EQ(due.size(), 1u);
  EXPECT_EQ(due[0].kind, TaskKind::isolate);
  EXPECT_EQ(due[0].command, "tubwarden jar discard J-1");
  EXPECT_TRUE(today("2026-03-07").front().late);
  grower.does("2026-03-07", JarDiscarded{"J-1", ""});
  EXPECT_THAT(today("2026-03-07"), IsEmpty());
}

TEST_F(TasksTest, ATubIsLookedAtWhenItsPhaseMayBeOver) {
  grower.fills_a_tub();
  facts.phases = {{"tub-1", "B-07", "casing", days(7), {days(8), days(12), days(18)}, "pinning"}};
  EXPECT_THAT(told_on("2026-03-20"), ::testing::Not(::testing::Contains(HasSubstr("tub-1"))));
  facts.phases[0].elapsed = days(9);
  const auto due = today("2026-03-20");
  ASSERT_FALSE(due.empty());
  EXPECT_EQ(due.back().text,
            "look whether tub-1 is ready for pinning: day 10 of casing, 8d to 12d are usual");
  EXPECT_EQ(due.back().command, "tubwarden phase tub-1 pinning");
  EXPECT_EQ(*due.back().due, day_of("2026-03-19"));
  EXPECT_FALSE(due.back().late);
  facts.phases[0].elapsed = days(18);
  EXPECT_TRUE(today("2026-03-20").front().late);
}

TEST_F(TasksTest, ATubThatIsNotCasedYetIsCased) {
  grower.inoculates(5);
  grower.does("2026-03-20", grower.spawn("tub-1", {"J-1", "J-2", "J-3", "J-4", "J-5"}));
  facts.phases = {{"tub-1", "B-07", "colonization", days(15), {days(14), days(21), {}}, "casing"}};
  EXPECT_EQ(today("2026-04-04").back().command, "tubwarden case tub-1");
}

TEST_F(TasksTest, PinsArePickedOnTheirEveningAndStumpsTakenOutAfterwards) {
  grower.fills_a_tub();
  grower.enters("tub-1", "fruiting", "2026-04-20");
  grower.does("2026-04-20", PinsSeen{"tub-1", "B-07", 2.0});
  facts.first_picks[{"tub-1", "B-07"}] = day_of("2026-04-24");
  const auto of_tub = [&](const std::string& day) {
    std::vector<std::string> commands;
    for (const Task& task : today(day)) {
      if (task.of.front() == "tub-1") commands.push_back(task.command);
    }
    return commands;
  };
  EXPECT_THAT(of_tub("2026-04-23"), IsEmpty());
  EXPECT_THAT(of_tub("2026-04-24"), ElementsAre("tubwarden harvest tub-1 GRAMS"));
  grower.does("2026-04-24", Picked{"tub-1", "B-07", 300.0, {}});
  EXPECT_THAT(of_tub("2026-04-24"), IsEmpty());
  EXPECT_THAT(of_tub("2026-04-25"), ElementsAre("tubwarden clean tub-1"));
  grower.does("2026-04-25", FlushCleaned{"tub-1", "B-07"});
  EXPECT_THAT(of_tub("2026-04-26"), IsEmpty());
}

TEST_F(TasksTest, UpkeepComesRoundAgain) {
  facts.upkeep = {{"drilled", "tub-1", "drill the fail-safes of tub-1", days(365), std::nullopt,
                   "tubwarden drill tub-1"}};
  EXPECT_THAT(told_on("2026-06-01"), ElementsAre(HasSubstr("not done yet, due every 365d")));
  facts.upkeep[0].last = day_of("2025-06-02");
  EXPECT_THAT(told_on("2026-06-01"), IsEmpty());
  EXPECT_THAT(told_on("2026-06-02"), ElementsAre(HasSubstr("last 365d ago")));
}

TEST(ListedTest, IdsStandInACommandAsItTakesThem) {
  EXPECT_EQ(listed({"J-1", "J-2", "J-3", "J-9", "x"}), "J-1..J-3 J-9 x");
}

}  // namespace
}  // namespace tubwarden
