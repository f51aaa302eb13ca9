// Forecasts through the warden: looks of the book, the air's history over moves, the profile's
// window, and what came of it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/text.hpp"
#include "fakes.hpp"

namespace tubwarden {
namespace {

using fakes::Rig;
using testing::HasSubstr;
using testing::SizeIs;
using Json = nlohmann::json;

std::shared_ptr<const Profile> profile_with_grain() {
  auto profile = std::make_shared<Profile>(*Rig::profile());
  PhasePlan grain;
  grain.name = kPhaseGrain;
  grain.quantities[index_of(Quantity::air_temperature)] =
      QuantityPlan{Keep{Keep::Form::between, 23, 25}, {}, {}};
  grain.expect = {days(14), days(21), days(30)};
  profile->phases.push_back(grain);
  for (PhasePlan& phase : profile->phases) {
    if (phase.name != kPhaseFruiting) continue;
    phase.quantities[index_of(Quantity::substrate_temperature)] =
        QuantityPlan{Keep{Keep::Form::between, 16, 18}, {}, {}};
  }
  return profile;
}

struct WardenForecast : ::testing::Test {
  Rig r;
  WallTime day0{};

  void SetUp() override {
    r.clock.zoned = true;
    Loaded loaded = Rig::loaded("colonization");
    loaded.grow.tubs[0].profile = profile_with_grain();
    TubPlan shelf = loaded.grow.tubs[0];
    shelf.id = "shelf-1";
    shelf.is_shelf = true;
    shelf.phase = "grain";
    loaded.grow.tubs.push_back(shelf);
    r.adopt(loaded);
    r.up();
    r.ask("phase", {{"tub", "tub-1"}, {"phase", "colonization"}});
    day0 = r.clock.wall_at - hours(24 * 14);
    r.record.placed = {{"shelf-1", "tub-1", "B-01", stamp(day0 - hours(1)), std::nullopt}};
  }
  static Stamp stamp(WallTime wall) { return {wall, true, "boot-a", Instant{}}; }
  std::string on(double day) const {
    return rfc3339(day0 + milliseconds(std::llround(day * 86'400'000.0)));
  }
  void kept_at(double celsius, Quantity q = Quantity::air_temperature) {
    HistorySeries series{"tub-1", "air", q, {}};
    for (WallTime t = day0; t < r.clock.wall_at; t += hours(1)) {
      series.points.push_back({t, celsius, celsius, celsius, 60});
    }
    r.record.kept["tub-1"].series = {series};
  }
  void add_jar() {
    r.ask("culture_receive", {{"culture", "LC-2"}, {"millilitres", 10.0}, {"on", on(-1)}});
    const auto added = r.ask("jar_add", {{"batch", "B-01"},
                                         {"count", 1},
                                         {"culture", "LC-2"},
                                         {"dose_ml", 1.0},
                                         {"shelf", "shelf-1"},
                                         {"on", on(0)}});
    ASSERT_FALSE(added->error) << added->error->text;
  }
  void look(double day, double pct) {
    const auto done = r.ask("jar_look", {{"jars", {"J-1"}}, {"grown_pct", pct}, {"on", on(day)}});
    ASSERT_FALSE(done->error) << done->error->text;
  }
  Json of(const std::string& name) {
    const auto answer = r.ask("forecast", {{"of", name}});
    EXPECT_TRUE(answer->came);
    EXPECT_FALSE(answer->error) << answer->error->text;
    return answer->json;
  }
  double days_of(const Json& at) const {
    const auto t = parse_rfc3339(at.get<std::string>());
    return t ? static_cast<double>((*t - day0).count()) / 86'400'000.0 : -1.0;
  }
};

TEST_F(WardenForecast, TellsTheProfilesWindowUntilThereAreThreeLooks) {
  kept_at(24.0);
  add_jar();
  look(8, 15);
  Json jar = of("J-1")["jars"][0];
  EXPECT_EQ(jar["basis"], "window");
  EXPECT_EQ(jar["basis_text"], "the profile's window: fewer than three looks");
  EXPECT_NEAR(days_of(jar["full"]["early"]), 14.0, 1e-6);
  EXPECT_NEAR(days_of(jar["full"]["late"]), 21.0, 1e-6);
  EXPECT_TRUE(jar["interval_pct"].is_null());
  look(11, 40);
  look(13, 62);
  jar = of("J-1")["jars"][0];
  EXPECT_EQ(jar["basis_text"], "from 3 looks");
  EXPECT_EQ(jar["interval_pct"], 80);
  EXPECT_EQ(jar["temperature_known_pct"], 100);
  EXPECT_NEAR(days_of(jar["shake_from"]["likely"]), 8.8, 1.0);
  EXPECT_GT(days_of(jar["full"]["likely"]), 14.5);
  EXPECT_LT(days_of(jar["full"]["early"]), days_of(jar["full"]["likely"]));
}

TEST_F(WardenForecast, ReadsTheAirsHistoryWhereTheJarStood) {
  add_jar();
  look(8, 15), look(11, 40), look(13, 62);
  kept_at(24.0);
  const double warm = of("J-1")["jars"][0]["warm_days"];
  kept_at(18.0);
  const double cold = of("J-1")["jars"][0]["warm_days"];
  EXPECT_NEAR(warm, 14 * 0.992, 0.1);
  EXPECT_NEAR(cold, 14 * 0.724, 0.1);
  // The shelf came into this air on day 7; of the time before nothing is known.
  r.record.placed = {{"shelf-1", "tub-1", "B-01", stamp(day0 + hours(24 * 7)), std::nullopt}};
  const Json later = of("J-1")["jars"][0];
  EXPECT_NEAR(later["temperature_known_pct"].get<double>(), 50.0, 1.0);
  EXPECT_NEAR(later["warm_days"].get<double>(), 7 * 0.992 + 7 * 0.724, 0.15);
  const HistoryAsk& asked = r.record.asked.back();
  EXPECT_EQ(asked.from, day0 + hours(24 * 7));
  EXPECT_EQ(asked.width, milliseconds(hours(1)));
}

TEST_F(WardenForecast, TellsTheErrorOnceAJarIsSeenFull) {
  kept_at(24.0);
  add_jar();
  look(5, 8), look(7, 25), look(9, 60);
  EXPECT_TRUE(of("J-1")["jars"][0]["error"].is_null());
  look(13.5, 100);
  const Json jar = of("B-01")["jars"][0];
  EXPECT_EQ(jar["seen_full"], on(13.5));
  ASSERT_TRUE(jar["error"].is_object());
  EXPECT_EQ(jar["error"]["told_at"], on(9));
  EXPECT_NEAR(jar["error"]["off_h"].get<double>(),
              (13.5 - days_of(jar["error"]["told"]["likely"])) * 24.0, 0.1);
}

TEST_F(WardenForecast, SaysWhatHasNoForecast) {
  kept_at(24.0);
  add_jar();
  r.ask("jar_contaminated", {{"jars", {"J-1"}}, {"jar", "J-1"}, {"seen", "green"}});
  EXPECT_EQ(of("J-1")["jars"][0]["missing"], "it is contaminated");
  EXPECT_THAT(of("B-01")["jars"], SizeIs(0));
  EXPECT_THAT(r.ask("forecast", {{"of", "J-9"}})->error->text, HasSubstr("no jar, batch or tub"));
  EXPECT_THAT(of("tub-1")["tubs"][0]["missing"].get<std::string>(),
              HasSubstr("tubwarden pins tub-1"));
  r.clock.set = false;
  EXPECT_THAT(r.ask("forecast", {{"of", "J-1"}})->error->text, HasSubstr("clock is not set"));
}

TEST_F(WardenForecast, NamesTheEveningOfTheFirstPickAndItsErrorAfterwards) {
  kept_at(17.0, Quantity::substrate_temperature);
  r.record.placed = {{"tub-1", "tub-1", "B-01", stamp(day0), std::nullopt}};
  add_jar();
  const auto spawned = r.ask("spawn", {{"tub", "tub-1"}, {"jars", {"J-1"}}, {"substrate_kg", 5.0}});
  ASSERT_FALSE(spawned->error) << spawned->error->text;
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  const WallTime seen = r.clock.wall_at;
  const auto pins = r.ask("pins", {{"tub", "tub-1"}, {"size_mm", 10.0}});
  ASSERT_FALSE(pins->error) << pins->error->text;
  Json bed = of("tub-1")["tubs"][0];
  EXPECT_TRUE(bed["missing"].is_null()) << bed;
  const auto ready = parse_rfc3339(bed["ready"]["likely"].get<std::string>());
  EXPECT_NEAR(seconds_of(*ready - seen) / 86'400.0, 2.0, 0.01) << "two doublings to 40 mm";
  const auto evening = parse_rfc3339(bed["evening"].get<std::string>());
  EXPECT_LE(std::abs(seconds_of(*evening - *ready)), 12 * 3600.0);
  EXPECT_TRUE(bed["first_pick"].is_null());
  r.clock.pass(hours(54));
  ASSERT_FALSE(r.ask("harvest", {{"tub", "tub-1"}, {"grams", 120.0}})->error);
  bed = of("tub-1")["tubs"][0];
  EXPECT_FALSE(bed["first_pick"].is_null());
  EXPECT_NEAR(bed["error"]["off_h"].get<double>(), 6.0, 0.2);
  EXPECT_EQ(bed["error"]["within"], true);
}

}  // namespace
}  // namespace tubwarden
