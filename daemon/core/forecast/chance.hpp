// Whether more of these siblings are contaminated than chance alone would bring: Fisher's exact
// test, one-sided. Threading: pure. Failure: an Error where the counts do not fit each other.
#pragma once

#include <cstdint>

#include "base/result.hpp"

namespace tubwarden {

/// The siblings of a jar, and the jars that they are held against.
struct SiblingCounts {
  std::int64_t affected = 0, siblings = 0;
  std::int64_t others_affected = 0, others = 0;
};
/// More jars than this are more than a record holds.
inline constexpr std::int64_t kChanceJarsMost = 1'000'000;
/// Below this chance it is told as more than chance (common practice).
inline constexpr double kChanceLevel = 0.05;

/// The chance that, of as many affected jars drawn without regard to kinship, as many or more are
/// siblings: sum over k >= affected of C(siblings, k) C(others, all affected - k) / C(all, all
/// affected) (Fisher, The Design of Experiments, 1935, ch. II; the sum is boost::math's). 1 where
/// nothing is affected, or nothing is there to be held against.
Result<double> chance_of(const SiblingCounts& counts);

/// Whether it is more than chance, for one question of so many asked at once (Bonferroni): by
/// culture, sterilising run, grain and day a jar has four groups of siblings.
constexpr bool more_than_chance(double chance, int questions = 1) {
  return chance * questions < kChanceLevel;
}

}  // namespace tubwarden
