// Fisher's exact test by published tables, by a sum of our own, and over ten thousand jars.
#include "core/forecast/chance.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace tubwarden {
namespace {

using ::testing::HasSubstr;

double chance(std::int64_t affected, std::int64_t siblings, std::int64_t others_affected,
              std::int64_t others) {
  const auto found = chance_of({affected, siblings, others_affected, others});
  EXPECT_TRUE(found.ok()) << found.error().text;
  return found.ok() ? *found : -1.0;
}

// Fisher, The Design of Experiments, 1935, ch. II: of 8 cups, milk first in 4, all 4 told rightly
// in 1 of 70 orders; 3 or more in 17 of 70.
TEST(Chance, IsThatOfTheLadyTastingTea) {
  EXPECT_NEAR(chance(4, 4, 0, 4), 1.0 / 70, 1e-12);
  EXPECT_NEAR(chance(3, 4, 1, 4), 17.0 / 70, 1e-12);
  EXPECT_NEAR(chance(2, 4, 2, 4), 53.0 / 70, 1e-12);
  EXPECT_EQ(chance(0, 4, 4, 4), 1.0);
}

// Convictions of like-sex twins of criminals: 10 of 13 monozygotic, 2 of 17 dizygotic; 0.0004652 in
// the manual of R (stats::fisher.test, from memory; after Fisher, Statistical Methods for Research
// Workers).
TEST(Chance, IsThatOfConvictedTwins) { EXPECT_NEAR(chance(10, 13, 2, 17), 0.0004652, 5e-8); }

/// The same sum by logarithms of factorials.
double by_logarithms(int affected, int siblings, int others_affected, int others) {
  const auto choose = [](int n, int k) {
    return std::lgamma(n + 1.0) - std::lgamma(k + 1.0) - std::lgamma(n - k + 1.0);
  };
  const int all = affected + others_affected;
  double sum = 0.0;
  for (int k = affected; k <= std::min(siblings, all); ++k) {
    if (all - k > others) continue;
    sum += std::exp(choose(siblings, k) + choose(others, all - k) - choose(siblings + others, all));
  }
  return sum;
}

TEST(Chance, AgreesWithASumOfItsOwnUpToTenThousandJars) {
  for (const auto& [a, s, oa, o] : {std::array{3, 5, 4, 40},
                                    {30, 400, 300, 9600},
                                    {60, 400, 300, 9600},
                                    {400, 400, 0, 9600},
                                    {1, 1, 0, 9999},
                                    {2500, 5000, 2500, 5000},
                                    {2600, 5000, 2400, 5000}}) {
    const double expected = by_logarithms(a, s, oa, o);
    EXPECT_NEAR(chance(a, s, oa, o), expected, 1e-7 * expected + 1e-300) << a << " of " << s;
  }
  EXPECT_GE(chance(250'000, 500'000, 250'000, 500'000), 0.5);
}

TEST(Chance, IsCertainWhereNothingCanBeTold) {
  EXPECT_EQ(chance(0, 5, 0, 20), 1.0) << "nothing affected";
  EXPECT_EQ(chance(3, 5, 0, 0), 1.0) << "no others";
  EXPECT_EQ(chance(5, 5, 20, 20), 1.0) << "all affected";
  EXPECT_EQ(chance(0, 0, 3, 20), 1.0) << "no siblings";
}

TEST(Chance, IsHeldAgainstTheQuestionsAsked) {
  EXPECT_TRUE(more_than_chance(0.04));
  EXPECT_FALSE(more_than_chance(0.04, 4));
  EXPECT_TRUE(more_than_chance(0.012, 4));
  EXPECT_FALSE(more_than_chance(0.05));
}

TEST(Chance, RefusesCountsThatDoNotFit) {
  for (const SiblingCounts& counts : {SiblingCounts{6, 5, 0, 10},
                                      {-1, 5, 0, 10},
                                      {1, 5, 11, 10},
                                      {1, 5, 0, -1},
                                      {1, 5, 0, kChanceJarsMost + 1}}) {
    const auto found = chance_of(counts);
    ASSERT_FALSE(found.ok());
    EXPECT_THAT(found.error().text, HasSubstr("none above what it is of"));
  }
}

}  // namespace
}  // namespace tubwarden
