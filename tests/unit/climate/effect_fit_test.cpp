// How much of an output's nominal effect shows in the readings.
#include "core/climate/effect_fit.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace tubwarden {
namespace {

constexpr std::array<double, EffectFit::kOutputs> kNoMost = {1e9, 1e9, 1e9, 1e9};

EffectTraits traits() { return {0.25, 10.0, 1e6, Duration{0}, 90.0, 1800.0}; }

/// An air that falls by `drift` a second and takes `share` of each of two outputs' pulses of 4
/// units in 4 s; a sensor of 10 s of lag is read each 5 s.
struct Play {
  EffectFit fit{traits()};
  Instant now{hours(1)};
  double true_value = 80.0, shown = 80.0;
  double share[2] = {1.0, 1.0};
  double drift = 0.0;
  double noise = 0.0;

  void run(int seconds_long, int every_first, int every_second) {
    for (int s = 0; s < seconds_long; ++s) {
      std::array<double, EffectFit::kOutputs> moved{};
      if (every_first > 0 && s % every_first < 4) moved[0] = 1.0;
      if (every_second > 0 && s % every_second < 4) moved[1] = -1.0;
      true_value += share[0] * moved[0] + share[1] * moved[1] + drift;
      shown += (true_value - shown) * (1.0 - std::exp(-0.1));
      fit.ran(moved, kNoMost, seconds(1));
      now += seconds(1);
      if (s % 5 == 0) fit.reading(shown + (s % 10 == 0 ? noise : -noise), now);
    }
  }
};

TEST(EffectFit, FindsTheShareThatShows) {
  for (const double share : {0.4, 1.0, 2.5}) {
    Play play;
    play.share[0] = share;
    play.run(3600, 150, 0);
    const auto found = play.fit.share(0);
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->value, share, 0.05 * share);
    EXPECT_TRUE(found->something());
    EXPECT_FALSE(found->nothing());
  }
}

TEST(EffectFit, TellsAnEmptyTankFromADriftThatHidesIt) {
  for (const double drift : {-0.05, 0.0, 0.05}) {
    Play play;
    play.drift = drift;
    play.share[0] = 0.0;
    play.run(3600, 150, 0);
    const auto found = play.fit.share(0);
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->value, 0.0, 0.05);
    EXPECT_TRUE(found->nothing()) << drift;
  }
}

TEST(EffectFit, TellsTwoOutputsApart) {
  Play play;
  play.share[1] = 0.0;
  play.run(3600, 150, 110);
  ASSERT_TRUE(play.fit.share(0) && play.fit.share(1));
  EXPECT_TRUE(play.fit.share(0)->something());
  EXPECT_TRUE(play.fit.share(1)->nothing());
}

TEST(EffectFit, AnswersNothingOfASteadyRun) {
  Play play;
  play.share[0] = 0.0;
  for (int s = 0; s < 7200; ++s) {
    play.fit.ran({0.01}, kNoMost, seconds(1));
    play.now += seconds(1);
    if (s % 5 == 0) play.fit.reading(80.0, play.now);
  }
  EXPECT_FALSE(play.fit.share(0)) << "it may hold the air against what would move it";
}

TEST(EffectFit, WantsMovementOfThreeQuanta) {
  Play play;
  EffectTraits coarse = traits();
  coarse.quantum = 5.0;  // pulses of 4
  play.fit.traits(coarse);
  play.share[0] = 0.0;
  play.run(3600, 300, 0);
  EXPECT_FALSE(play.fit.share(0));
}

TEST(EffectFit, IsLessSureOfNoisyReadings) {
  Play calm, noisy;
  noisy.noise = 3.0;
  calm.run(3600, 150, 0);
  noisy.run(3600, 150, 0);
  ASSERT_TRUE(calm.fit.share(0) && noisy.fit.share(0));
  EXPECT_GT(noisy.fit.share(0)->error, 2.0 * calm.fit.share(0)->error);
}

TEST(EffectFit, KnowsNothingBeforeItWasToldAndAfterItForgot) {
  Play play;
  EXPECT_FALSE(play.fit.share(0));
  EXPECT_FALSE(play.fit.share(EffectFit::kOutputs));
  play.run(3600, 150, 0);
  EXPECT_TRUE(play.fit.share(0));
  EXPECT_FALSE(play.fit.share(1)) << "it never ran";
  play.fit.forget();
  EXPECT_FALSE(play.fit.share(0));
}

TEST(EffectFit, BelievesARefilledTankWithinTheHour) {
  Play play;
  play.share[0] = 0.0;
  play.run(7200, 150, 0);
  ASSERT_TRUE(play.fit.share(0) && play.fit.share(0)->nothing());
  play.share[0] = 1.0;
  play.run(3600, 150, 0);
  EXPECT_TRUE(play.fit.share(0)->something());
}

}  // namespace
}  // namespace tubwarden
