// A new plan from now: what stayed the same keeps its state, what changed starts anew.
#include "rig.hpp"

namespace tubwarden {
namespace {

constexpr auto kHumidity = Quantity::humidity;

Rig running() {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.part(mister).limits.shortest_rest = seconds(20);
  });
  rig.start("fruiting");
  rig.wait(seconds(20)).humidity(80);
  rig.wait(seconds(5)).humidity(87);  // between start and stop: it runs on
  EXPECT_TRUE(rig.runs(mister));
  return rig;
}

TEST(Adopt, TheSamePlanChangesNothing) {
  Rig rig = running();
  const auto before = rig.heard.size();
  rig.adopt([](Plans&) {});
  rig.in_phase("fruiting", seconds(30));  // told again, from the record
  EXPECT_EQ(rig.heard.size(), before);
  EXPECT_TRUE(rig.runs(mister));
  EXPECT_NE(rig.why(mister).find("running for 5s"), std::string::npos) << rig.why(mister);
}

TEST(Adopt, AnotherOrderOfTheFileChangesNothing) {
  Rig rig = running();
  const auto before = rig.heard.size();
  rig.adopt([](Plans& s) {
    std::swap(s.chamber.actuators[mister], s.chamber.actuators[fan]);
    std::swap(s.chamber.sensors[0], s.chamber.sensors[1]);
  });
  EXPECT_EQ(rig.heard.size(), before);
  EXPECT_EQ(rig.chamber().actuators(rig.now)[fan].id, "mister");
  EXPECT_EQ(rig.chamber().actuators(rig.now)[fan].level, kRun);
  EXPECT_TRUE(rig.view(kHumidity).usable);
}

TEST(Adopt, ANewBandIsObeyedInTheSameTurn) {
  Rig rig = running();
  rig.adopt([](Plans& s) { s.keep("fruiting", kHumidity, 80, 85); });
  EXPECT_FALSE(rig.runs(mister)) << "87 is above the new band";
}

TEST(Adopt, AChangedOutputIsAnother) {
  Rig rig = running();
  rig.adopt([](Plans& s) { s.part(mister).output.wiring_json = R"({"topic":"other"})"; });
  EXPECT_EQ(rig.chamber().actuators(rig.now)[mister].level, kRest);
  EXPECT_NE(rig.why(mister).find("its driver is not ready"), std::string::npos);
  rig.humidity(80);
  const auto before = rig.commands(mister);
  rig.step(event::OutputUsable{mister, true, ""});
  EXPECT_EQ(rig.commands(mister), before + 1);
  EXPECT_EQ(rig.last_command(mister).level, kRest) << "a start counts as a stop just now";
  rig.wait(seconds(20));
  EXPECT_TRUE(rig.runs(mister));
}

TEST(Adopt, AChangedEffectIsAnother) {
  Rig rig = running();
  rig.adopt([](Plans& s) { s.part(mister).effect = Effect::dehumidify; });
  EXPECT_NE(rig.why(mister).find("its driver is not ready"), std::string::npos);
}

TEST(Adopt, AChangedSensorIsHeardAnew) {
  using Edit = std::function<void(SensorPlan&)>;
  struct Case {
    const char* what;
    Edit edit;
    bool keeps;
  };
  const Case cases[] = {
      {"nothing", [](SensorPlan&) {}, true},
      {"stale_after", [](SensorPlan& s) { s.stale_after = minutes(9); }, true},
      {"gone",
       [](SensorPlan& s) {
         s.gone = GonePlan{"cellar/gone", "1"};
       },
       true},
      {"accuracy", [](SensorPlan& s) { s.quantities[0].accuracy = 2; }, true},
      {"topic", [](SensorPlan& s) { s.topic = "cellar/other"; }, false},
      {"id", [](SensorPlan& s) { s.id = "other"; }, false},
      {"pointer", [](SensorPlan& s) { s.quantities[0].at = "/rh"; }, false},
      {"unit", [](SensorPlan& s) { s.quantities[0].unit = SensorUnit::celsius; }, false},
      {"scale", [](SensorPlan& s) { s.quantities[0].scale = 0.1; }, false},
      {"offset", [](SensorPlan& s) { s.quantities[0].offset = -3; }, false},
      {"range", [](SensorPlan& s) { s.quantities[0].range_high = 80; }, false},
      {"time",
       [](SensorPlan& s) {
         s.time = StampPlan{"/t", StampForm::unix_s};
       },
       false},
      {"one quantity less", [](SensorPlan& s) { s.quantities.pop_back(); }, false},
  };
  for (const Case& c : cases) {
    Rig rig = running();
    rig.adopt([&](Plans& s) { c.edit(s.chamber.sensors[air_sensor]); });
    EXPECT_EQ(rig.view(kHumidity).usable, c.keeps) << c.what;
    EXPECT_EQ(rig.runs(mister), c.keeps) << c.what;
  }
}

TEST(Adopt, ARemovedMisterCountsAsAMistJustEnded) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.room_is(20, 50);
    s.never_stale();
  });
  rig.start("fruiting").air(17);
  rig.wait(minutes(5)).humidity(80);
  ASSERT_TRUE(rig.runs(mister));
  rig.wait(seconds(1));
  rig.adopt([](Plans& s) { s.part(mister).output.wiring_json = "{}"; });
  rig.humidity(97);
  EXPECT_FALSE(rig.runs(fan)) << rig.why(fan);
  rig.wait(seconds(120));
  EXPECT_TRUE(rig.runs(fan));
}

TEST(Adopt, AnotherLeaderBringsItsPhase) {
  Rig rig([](Plans& s) {
    s.keep("fruiting", kHumidity, 85, 90);
    s.keep("casing", kHumidity, 70, 75);
    s.tubs.push_back(s.tubs[0]);
    s.tubs[1].id = "tub-2";
  });
  rig.start("fruiting").humidity(80);
  rig.step(event::PhaseIs{{"tub-2", "casing", rig.now, {}}});
  ASSERT_TRUE(rig.runs(mister));
  EXPECT_EQ(rig.chamber().phase(), "fruiting");
  rig.adopt([](Plans& s) { s.chamber.leader = "tub-2"; });
  EXPECT_EQ(rig.chamber().phase(), "casing");
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_TRUE(rig.runs(dryer));
}

TEST(Adopt, AnotherBatchIsNotConfirmed) {
  Rig rig = running();
  rig.adopt([](Plans& s) { s.tubs[0].batch = "B-08"; });
  EXPECT_EQ(rig.chamber().phase(), "");
  EXPECT_FALSE(rig.runs(mister));
  EXPECT_TRUE(rig.last_command(mister).safe);
}

TEST(Adopt, TheRoomsSensorKeepsItsValueWhileItIsTheSame) {
  for (const bool same : {true, false}) {
    Rig rig([](Plans& s) {
      s.keep("casing", Quantity::air_temperature, 15, 19);
      s.never_stale();
      s.room.temperature.sensor = SensorPlan{};
      s.room.temperature.sensor->topic = "house/room";
    });
    rig.start("casing").air(25);
    rig.step(event::RoomReading{event::RoomQuantity::temperature, 10, false});
    ASSERT_TRUE(rig.runs(fan));
    rig.adopt([&](Plans& s) {
      if (!same) s.room.temperature.sensor->topic = "house/other";
    });
    EXPECT_EQ(rig.runs(fan), same);
  }
}

TEST(Adopt, AFixedRoomTakesNoReadings) {
  Rig rig([](Plans& s) {
    s.keep("casing", Quantity::air_temperature, 15, 19);
    s.room.temperature.fixed = 30;
  });
  rig.start("casing").air(25);
  rig.step(event::RoomReading{event::RoomQuantity::temperature, 10, false});
  EXPECT_FALSE(rig.runs(fan));
}

TEST(Adopt, ViewsAreOfTheNewPlan) {
  Rig rig = running();
  rig.adopt([](Plans& s) {
    s.warn("fruiting", kHumidity, {78.0, 95.0, minutes(10)});
    s.chamber.actuators.resize(3);
  });
  EXPECT_EQ(rig.chamber().actuators(rig.now).size(), 3U);
  EXPECT_EQ(rig.chamber().plan().actuators.size(), 3U);
  EXPECT_EQ(rig.chamber().tubs().at(0).id, "tub-1");
  EXPECT_EQ(rig.view(kHumidity).warn_below, 78.0);
  EXPECT_EQ(rig.view(kHumidity).warn_above, 95.0);
  EXPECT_EQ(rig.view(kHumidity).value, 87.0);
  EXPECT_FALSE(rig.view(Quantity::co2).value);
}

}  // namespace
}  // namespace tubwarden
