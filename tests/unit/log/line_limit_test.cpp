#include "shell/log/line_limit.hpp"

#include <gmock/gmock.h>

namespace {

using namespace tubwarden;
using log::LineLimit;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using Verdict = LineLimit::Verdict;

const Instant kStart{hours(100)};

TEST(LineLimit, TakesAFewOfOneLineAndTellsTheRestWhenTheMinuteIsOver) {
  LineLimit limit;
  for (int i = 0; i < 5; ++i) EXPECT_EQ(limit.judge("wet", kStart + seconds(i)), Verdict::write);
  for (int i = 5; i < 30; ++i) {
    EXPECT_EQ(limit.judge("wet", kStart + seconds(i)), Verdict::repeated);
  }
  EXPECT_EQ(limit.judge("dry", kStart + seconds(30)), Verdict::write);
  EXPECT_THAT(limit.over(kStart + minutes(1) - Duration{1}), IsEmpty());
  EXPECT_THAT(limit.over(kStart + minutes(1)), ElementsAre("(25 more times: wet)"));
  EXPECT_EQ(limit.judge("wet", kStart + minutes(1)), Verdict::write) << "a new minute";
  EXPECT_THAT(limit.over(kStart + seconds(90)), IsEmpty()) << "dry came once only";
}

TEST(LineLimit, TakesABurstOfDifferentLinesAndThenATrickle) {
  LineLimit limit;
  const auto taken = [&](int lines, Instant at) {
    int n = 0;
    for (int i = 0; i < lines; ++i) {
      static int number = 0;
      n += limit.judge("line " + std::to_string(++number), at) == Verdict::write;
    }
    return n;
  };
  EXPECT_EQ(taken(3000, kStart), 1000);
  EXPECT_EQ(taken(3000, kStart), 0);
  EXPECT_EQ(taken(3000, kStart + seconds(10)), 20);
  EXPECT_EQ(taken(3000, kStart + hours(1)), 1000) << "no more than one burst is saved up";
}

TEST(LineLimit, TellsNoMoreLinesApartThanItKeeps) {
  LineLimit limit;
  for (std::size_t i = 0; i < LineLimit::kWatchedMax; ++i) {
    limit.judge("line " + std::to_string(i), kStart);
  }
  for (int i = 0; i < 10; ++i) EXPECT_EQ(limit.judge("one more", kStart), Verdict::write);
  for (int i = 0; i < 4; ++i) EXPECT_EQ(limit.judge("line 0", kStart), Verdict::write);
  EXPECT_EQ(limit.judge("line 0", kStart), Verdict::repeated);
  EXPECT_THAT(limit.over(kStart + minutes(2)), ElementsAre("(1 more times: line 0)"));
  for (int i = 0; i < 5; ++i) limit.judge("one more", kStart + minutes(2));
  EXPECT_EQ(limit.judge("one more", kStart + minutes(2)), Verdict::repeated) << "room again";
}

TEST(LineLimit, TellsAllCountsAtTheEnd) {
  LineLimit limit;
  for (int i = 0; i < 7; ++i) limit.judge("wet", kStart);
  EXPECT_THAT(limit.over({}, true), ElementsAre("(2 more times: wet)"));
  EXPECT_THAT(limit.over({}, true), IsEmpty());
}

}  // namespace
