// The climate that a phase kept, against sums by hand.
#include <gtest/gtest.h>

#include "core/climate/kept_climate.hpp"

namespace {

using namespace tubwarden;

const std::optional<KeptBand> kBetween = KeptBand{{85.0, 90.0}, true, true};

TEST(KeptClimate, MeansAreByTimeAndEdgesAreInside) {
  QuantityKept kept;
  kept.add(80.0, false, kBetween, minutes(10));
  kept.add(85.0, false, kBetween, minutes(20));
  kept.add(90.0, false, kBetween, minutes(20));
  kept.add(96.0, false, kBetween, minutes(10));
  EXPECT_DOUBLE_EQ(kept.live_s, 3600.0);
  EXPECT_DOUBLE_EQ(kept.banded_s, 3600.0);
  EXPECT_DOUBLE_EQ(kept.inside_s, 2400.0);
  // (80 * 10 + 85 * 20 + 90 * 20 + 96 * 10) / 60
  EXPECT_NEAR(kept.mean, 87.6667, 1e-4);
  EXPECT_EQ(kept.least, 80.0);
  EXPECT_EQ(kept.most, 96.0);
}

TEST(KeptClimate, AValueThatHeldForNoTimeCountsForNothing) {
  QuantityKept kept;
  kept.add(12.0, false, kBetween, Duration{0});
  EXPECT_EQ(kept, QuantityKept{});
  kept.add(88.0, false, {}, seconds(5));
  EXPECT_EQ(kept.least, 88.0);
  EXPECT_EQ(kept.live_s, 5.0);
  EXPECT_EQ(kept.banded_s, 0.0) << "no band was asked for";
}

TEST(KeptClimate, AHalfThatIsNotObeyedBoundsNothing) {
  QuantityKept below;  // keep_below: 1000 ppm over a room of 420
  below.add(400.0, false, KeptBand{{420.0, 1000.0}, false, true}, seconds(60));
  below.add(1001.0, true, KeptBand{{420.0, 1000.0}, false, true}, seconds(60));
  EXPECT_EQ(below.inside_s, 60.0);
  EXPECT_TRUE(below.at_least);
  QuantityKept above;  // keep_above: 90 %
  above.add(100.0, false, KeptBand{{90.0, 100.0}, true, false}, seconds(60));
  above.add(89.9, false, KeptBand{{90.0, 100.0}, true, false}, seconds(60));
  EXPECT_EQ(above.inside_s, 60.0);
}

TEST(KeptClimate, TwoPartsJoinedAreAsOneWholeSummedUp) {
  KeptSums first, second, whole;
  const auto add = [&](KeptSums& part, Quantity q, double value, Duration lasted) {
    part.of(q).add(value, false, kBetween, lasted);
    whole.of(q).add(value, false, kBetween, lasted);
  };
  add(first, Quantity::humidity, 84.0, minutes(3));
  add(first, Quantity::humidity, 88.0, minutes(7));
  add(second, Quantity::humidity, 93.0, minutes(30));
  add(second, Quantity::co2, 900.0, minutes(5));
  first.ran("fan", 20.0);
  second.ran("fan", 30.0);
  second.ran("mister", 1.5);
  first.join(second);
  for (Quantity q : {Quantity::humidity, Quantity::co2}) {
    EXPECT_DOUBLE_EQ(first.of(q).live_s, whole.of(q).live_s);
    EXPECT_DOUBLE_EQ(first.of(q).inside_s, whole.of(q).inside_s);
    EXPECT_NEAR(first.of(q).mean, whole.of(q).mean, 1e-12);
    EXPECT_EQ(first.of(q).least, whole.of(q).least);
    EXPECT_EQ(first.of(q).most, whole.of(q).most);
  }
  EXPECT_EQ(first.outputs, (std::vector<OutputKept>{{"fan", 50.0}, {"mister", 1.5}}));
}

TEST(KeptClimate, ManyShortPartsKeepTheirMean) {
  QuantityKept kept;
  constexpr int kSeconds = 42 * 8640;
  for (int i = 0; i < kSeconds; ++i) kept.add(i % 2 == 0 ? 84.0 : 90.0, false, {}, seconds(1));
  EXPECT_NEAR(kept.mean, 87.0, 1e-6);
  EXPECT_DOUBLE_EQ(kept.live_s, kSeconds);
}

TEST(KeptClimate, OutputsAreBounded) {
  KeptSums sums;
  for (std::size_t i = 0; i < kOutputsKeptMax + 10; ++i) sums.ran(std::to_string(i), 1.0);
  EXPECT_EQ(sums.outputs.size(), kOutputsKeptMax);
}

TEST(KeptClimate, TheSentenceSaysWhatIsKnown) {
  KeptSums sums;
  EXPECT_EQ(told(sums), "no reading was usable");
  QuantityKept& humid = sums.of(Quantity::humidity);
  humid.add(84.0, false, kBetween, minutes(1));
  humid.add(88.0, false, kBetween, minutes(3));
  sums.of(Quantity::co2).add(10000.0, true, {}, minutes(1));
  EXPECT_EQ(told(sums),
            "humidity 87 % (84 to 88), in its band for 75 % of the time; CO2 at least 10000 ppm "
            "(10000 to 10000)");
  humid.add(88.0, false, kBetween, hours(24));
  EXPECT_NE(told(sums).find("for more than 99 % of the time"), std::string::npos);
}

}  // namespace
