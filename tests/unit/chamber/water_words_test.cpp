// The water book in sentences.
#include <gtest/gtest.h>

#include "core/chamber/water_view.hpp"

namespace tubwarden {
namespace {

WaterView view_of(double gave_g, double doubt_g, Duration since, Duration covered) {
  WaterView view;
  CasingView casing{"tub-1", 200.0, {}};
  casing.account.gave_g = gave_g;
  casing.account.doubt_g = doubt_g;
  casing.account.since = since;
  casing.account.covered = covered;
  view.casings = {casing};
  return view;
}
std::string said(const WaterView& view) { return told(view.casings.front(), view); }

TEST(WaterWords, SayWhatToGiveBackAndHowSureThatIs) {
  EXPECT_EQ(
      said(view_of(212.4, 60.2, hours(31), hours(31))),
      "the casing gave up 212 g (+-60) in 31 h since 200 mL were given; as much again is about "
      "210 mL");
  EXPECT_EQ(said(view_of(40.0, 60.0, hours(31), hours(31))),
            "the casing gave up 40 g (+-60) in 31 h since 200 mL were given; no more than the "
            "figures are unsure by");
  EXPECT_EQ(said(view_of(-12.0, 20.0, hours(5), hours(5))),
            "the casing took up 12 g (+-20) in 5 h since 200 mL were given");
}

TEST(WaterWords, SayHowMuchOfTheTimeWasReadAndWhatIsAssumed) {
  WaterView view = view_of(100.0, 10.0, hours(30), hours(20));
  view.leak_assumed = true;
  EXPECT_EQ(said(view),
            "the casing gave up 100 g (+-10) in 30 h since 200 mL were given, of which 20 h were "
            "read; as much again is about 100 mL; the lid's leak is assumed");
  EXPECT_EQ(said(view_of(3.0, 1.0, hours(6), minutes(30))),
            "6 h since 200 mL were given, and 0.5 h of it with readings: too little to say what it "
            "gave up");
}

TEST(WaterWords, SayWhatIsMissingInsteadOfANumber) {
  WaterView view = view_of(100.0, 10.0, hours(30), hours(20));
  view.missing = {"the room's humidity", "the rate of mister"};
  EXPECT_EQ(
      said(view),
      "what the casing gives up is not known without the room's humidity, the rate of mister");
}

TEST(WaterWords, SuggestNothingWhereSeveralStandInOneAir) {
  WaterView view = view_of(300.0, 50.0, hours(30), hours(30));
  view.casings.push_back(view.casings.front());
  EXPECT_EQ(said(view), "the casings here gave up 300 g (+-50) in 30 h since 200 mL were given");
}

TEST(WaterWords, TellTanksAndTheDay) {
  TankView tank{"mister", 2000.0, {}, {}};
  EXPECT_EQ(told(tank), "mister: how full its tank is was never said (refill)");
  tank.left_ml = 1322.0;
  EXPECT_EQ(told(tank), "mister: about 1.3 of 2 L left");
  tank.lasts = hours(61);
  EXPECT_EQ(told(tank), "mister: about 1.3 of 2 L left, for 61 h as it ran of late");
  WaterView view;
  view.day_seen = hours(24);
  EXPECT_EQ(told_day(view), "") << "nothing ran";
  view.day_mist_g = 51.0;
  view.day_energy_wh = 96.4;
  view.unmetered = {"fan"};
  EXPECT_EQ(told_day(view),
            "51 g of mist, 96 Wh in the last 24 h, without fan, whose power is not given");
}

}  // namespace
}  // namespace tubwarden
