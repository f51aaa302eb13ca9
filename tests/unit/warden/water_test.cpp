// The water book through the warden: shown, published, kept in the record and given back.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fakes.hpp"

namespace tubwarden {
namespace {

using fakes::Rig;
using testing::HasSubstr;

Loaded measured() {
  Loaded l = Rig::loaded("fruiting");
  ChamberPlan& chamber = l.grow.chambers[0];
  QuantitySource celsius;
  celsius.quantity = Quantity::air_temperature;
  celsius.at = "/t";
  celsius.range_low = -20;
  celsius.range_high = 80;
  chamber.sensors[0].quantities[0].at = "/rh";
  chamber.sensors[0].quantities.push_back(celsius);
  chamber.sensors[0].stale_after = hours(10);
  chamber.actuators[0].rate = 40.0;
  chamber.actuators[0].tank_ml = 2000.0;
  l.grow.room.temperature.fixed = 20.0;
  l.grow.room.humidity.fixed = 50.0;
  return l;
}

void go(Rig& r) {
  r.adopt(measured());
  r.up();
  r.ask("phase", {{"tub", "tub-1"}, {"phase", "fruiting"}});
  for (int i = 0; i < 30; ++i) {
    r.reading(R"({"rh":88,"t":17})");
    r.pass(minutes(5));
  }
}

nlohmann::json casing(Rig& r) { return r.ask("book", {{"tub", "tub-1"}})->json["casings"][0]; }

TEST(WardenWater, IsShownInStatusAndAnswered) {
  Rig r;
  go(r);
  const nlohmann::json told = casing(r);
  EXPECT_GT(told["leak_g"].get<double>(), 0.5);
  EXPECT_NEAR(told["covered_s"].get<double>(), 150 * 60.0, 600.0);
  EXPECT_EQ(r.status()["chambers"][0]["water"]["casings"][0], told);
  EXPECT_TRUE(r.ask("book", {{"tub", "tub-9"}})->error);
}

TEST(WardenWater, AWateringBeginsItAnewAndSaysWhatWasBefore) {
  Rig r;
  go(r);
  const auto answer = r.ask("water", {{"tub", "tub-1"}, {"millilitres", 200.0}});
  EXPECT_THAT(answer->json["text"].get<std::string>(),
              HasSubstr("watered with 200 mL; until now the casing "));
  EXPECT_EQ(casing(r)["given_ml"], 200.0);
  EXPECT_LT(casing(r)["since_s"].get<double>(), 1.0);
}

TEST(WardenWater, ARefillIsAnEntryAndFillsTheTank) {
  Rig r;
  go(r);
  EXPECT_TRUE(r.ask("book", {{"tub", "tub-1"}})->json["tanks"][0]["left_ml"].is_null());
  const auto answer = r.ask("refill", {{"tub", "tub-1"}, {"actuator", "mister"}});
  EXPECT_EQ(answer->json["text"], "tub-1: the tank of mister is full: 2 L");
  EXPECT_EQ(r.record.all<Act>().back().what, "refilled");
  EXPECT_EQ(r.ask("book", {{"tub", "tub-1"}})->json["tanks"][0]["left_ml"], 2000.0);
  const auto wrong = r.ask("refill", {{"tub", "tub-1"}, {"actuator", "mistre"}});
  ASSERT_TRUE(wrong->error);
  EXPECT_THAT(wrong->error->text, HasSubstr("nearest: mister"));
}

TEST(WardenWater, IsPublishedRetained) {
  Rig r;
  go(r);
  const auto told = r.broker.retained.find("tubwarden/shed/tub/tub-1/water");
  ASSERT_NE(told, r.broker.retained.end());
  EXPECT_TRUE(nlohmann::json::parse(told->second).contains("gave_up_g"));
}

TEST(WardenWater, GoesOnAfterARestart) {
  Rig before;
  go(before);
  before.ask("water", {{"tub", "tub-1"}, {"millilitres", 150.0}});
  before.ask("refill", {{"tub", "tub-1"}, {"actuator", "mister"}});
  before.pass(minutes(30));
  before.warden.stop();
  ASSERT_FALSE(before.record.book_rows.empty());
  const nlohmann::json kept = casing(before);

  Rig after;
  after.clock.at = before.clock.at + minutes(60);
  after.warden.remember_books({before.record.book_rows.back()});
  TubRecord known;
  known.tub = known.chamber = "tub-1";
  known.batch = "B-01";
  known.phase = "fruiting";
  known.file_seen = "fruiting";
  known.place_seen = "tub-1";
  after.warden.remember({known});
  after.adopt(measured());
  EXPECT_EQ(casing(after)["given_ml"], 150.0);
  EXPECT_EQ(casing(after)["gave_up_g"], kept["gave_up_g"]);
  EXPECT_NEAR(casing(after)["since_s"].get<double>(), 90 * 60.0, 1.0);
  EXPECT_EQ(after.ask("book", {{"tub", "tub-1"}})->json["tanks"][0]["left_ml"],
            before.ask("book", {{"tub", "tub-1"}})->json["tanks"][0]["left_ml"]);
}

TEST(WardenWater, ADamagedBookIsNone) {
  for (const char* text :
       {"", "no json", "[1,2]", R"({"sums":7,"marks":{"a":1},"outputs":[3,{"id":4,"hours":"x"}]})",
        R"({"sums":{"fan_g":"much"},"known_s":[1e999,"x"],"hour_s":-1e300})"}) {
    Rig r;
    r.warden.remember_books({{"tub-1", text, {}}});
    go(r);
    EXPECT_GT(casing(r)["covered_s"].get<double>(), 3600.0) << text;
  }
}

}  // namespace
}  // namespace tubwarden
