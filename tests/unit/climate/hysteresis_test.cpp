// Hysteresis and what a `keep` means as a band.
#include <gtest/gtest.h>

#include <random>

#include "core/climate/hysteresis.hpp"

namespace tubwarden {
namespace {

TEST(KeptBand, OfEachForm) {
  const KeptBand between = kept_band({Keep::Form::between, 85, 90}, 420);
  EXPECT_EQ(between.band, (Band{85, 90}));
  EXPECT_TRUE(between.raises && between.lowers);
  EXPECT_DOUBLE_EQ(between.raise_start(), 86.25);
  EXPECT_DOUBLE_EQ(between.lower_start(), 88.75);

  const KeptBand above = kept_band({Keep::Form::above, 90, 0}, 420);
  EXPECT_EQ(above.band, (Band{90, 100}));
  EXPECT_TRUE(above.raises && !above.lowers);

  // The shared details' own example: CO2 1000 over a room of 420: 855 and 710.
  const KeptBand below = kept_band({Keep::Form::below, 0, 1000}, 420);
  EXPECT_TRUE(!below.raises && below.lowers);
  EXPECT_DOUBLE_EQ(below.lower_start(), 855);
  EXPECT_DOUBLE_EQ(below.band.middle(), 710);

  const KeptBand worse = kept_band({Keep::Form::below, 0, 1000}, 1400);
  EXPECT_EQ(worse.band, (Band{1000, 1000}));
}

TEST(Hysteresis, WalksTheBand) {
  const KeptBand kept = kept_band({Keep::Form::between, 85, 90}, 0);
  struct Step {
    double value;
    Call call;
  };
  const Step steps[] = {
      {87.5, Call::none},  {86.25, Call::none}, {86.24, Call::raise}, {87.49, Call::raise},
      {87.5, Call::none},  {88.75, Call::none}, {88.76, Call::lower}, {87.51, Call::lower},
      {87.5, Call::none},  {80.0, Call::raise}, {89.0, Call::lower},  // through it in one leap
      {86.0, Call::raise}, {87.4, Call::raise},
  };
  Hysteresis h;
  for (const Step& s : steps) EXPECT_EQ(h.judge(s.value, kept), s.call) << s.value;
  h.reset();
  EXPECT_EQ(h.call(), Call::none);
  EXPECT_EQ(h.judge(87.4, kept), Call::none) << "a fresh start";
}

TEST(Hysteresis, AHalfThatIsNoLongerKeptEndsItsCall) {
  Hysteresis h;
  EXPECT_EQ(h.judge(80, kept_band({Keep::Form::between, 85, 90}, 0)), Call::raise);
  EXPECT_EQ(h.judge(80, {{85, 90}, false, true}), Call::none);
  EXPECT_EQ(h.judge(95, {{85, 90}, false, true}), Call::lower);
  EXPECT_EQ(h.judge(95, {{85, 90}, true, false}), Call::none);
}

/// The rule in the words of the details, judged over the whole past at once: a raise lasts from the
/// last time below its start for as long as the middle was not reached since.
Call oracle(const std::vector<double>& past, const KeptBand& kept) {
  for (std::size_t i = past.size(); i-- > 0;) {
    const double v = past[i];
    if (kept.raises && v < kept.raise_start()) {
      for (std::size_t j = i + 1; j < past.size(); ++j) {
        if (past[j] >= kept.band.middle()) return Call::none;
      }
      return Call::raise;
    }
    if (kept.lowers && v > kept.lower_start()) {
      for (std::size_t j = i + 1; j < past.size(); ++j) {
        if (past[j] <= kept.band.middle()) return Call::none;
      }
      return Call::lower;
    }
  }
  return Call::none;
}

TEST(Hysteresis, AgreesWithTheRuleOverSeededSequences) {
  for (unsigned seed = 1; seed <= 200; ++seed) {
    std::mt19937 random(seed);
    std::uniform_real_distribution<double> value(80, 95), step(-2, 2);
    const KeptBand kept{{85, 90}, seed % 3 != 0, seed % 3 != 1};
    Hysteresis h;
    std::vector<double> past;
    double v = value(random);
    for (int i = 0; i < 100; ++i) {
      v = i % 17 == 0 ? value(random) : v + step(random);
      past.push_back(v);
      ASSERT_EQ(name_of(h.judge(v, kept)), name_of(oracle(past, kept)))
          << "seed " << seed << " step " << i << " value " << v;
    }
  }
}

TEST(Hysteresis, NamesItsCalls) {
  EXPECT_EQ(name_of(Call::none), "none");
  EXPECT_EQ(name_of(Call::raise), "raise");
  EXPECT_EQ(name_of(Call::lower), "lower");
}

}  // namespace
}  // namespace tubwarden
