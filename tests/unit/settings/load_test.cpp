// A whole folder as typed values: every key arrives where the daemon reads it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "bench.hpp"

namespace tubwarden {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using testing::Optional;

TEST(Load, TakesTheSite) {
  bench::Folder folder;
  folder.spoil("tubwarden.yaml", "  url: \"mqtt://127.0.0.1:1883\"",
               "  url: \"mqtts://broker.lan\"\n  user_file: /etc/user\n  ca_file: /etc/ca\n"
               "  cert_file: /etc/cert\n  key_file: /etc/key");
  const Loaded loaded = folder.load();
  ASSERT_TRUE(loaded.site) << testing::PrintToString(bench::told(loaded));
  const BrokerSettings broker{"mqtts://broker.lan", "/etc/user", "/etc/ca", "/etc/cert",
                              "/etc/key"};
  EXPECT_EQ(loaded.site->broker, broker);
  EXPECT_EQ(loaded.site->site, "cellar");
  EXPECT_EQ(loaded.site->record_folder, "/var/lib/tubwarden");
  EXPECT_EQ(loaded.site->control_socket, "/run/tubwarden/control.sock");
  const ChannelPlan phone{
      "phone", "program", R"({"argv":["/bin/true"],"timeout":"20000ms"})", {AlertRank::now}};
  EXPECT_THAT(loaded.site->channels, ElementsAre(phone));
  EXPECT_THAT(loaded.grow.room.temperature.fixed, Optional(15.0));
  EXPECT_THAT(loaded.grow.room.humidity.fixed, Optional(50.0));
  EXPECT_FALSE(loaded.grow.room.co2.known());
}

TEST(Load, TakesWhenTheGrowerIsTold) {
  bench::Folder folder;
  folder.write("tubwarden.yaml", R"(site: s
broker: {url: "mqtt://[::1]:1884"}
alerts: {again_every: never, quiet_hours: {from: "22:00", to: "07:30", hold: [noted]}}
channels:
  - {id: near, plugin: program, wiring: {argv: [/bin/true]}, after_unseen: 20m}
  - {id: watch, plugin: program, wiring: {argv: [/bin/true]}, heartbeat: {every: 5m}}
)");
  folder.spoil("profiles/button.yaml", "warn: {below: 80 %}",
               "warn: {below: 80 %, off_delay: 5m, deadband: 2 %}");
  const Loaded loaded = folder.load();
  ASSERT_TRUE(loaded.site) << testing::PrintToString(bench::told(loaded));
  const AlertSettings& alerts = loaded.site->alerts;
  EXPECT_FALSE(alerts.again_every);
  EXPECT_EQ(alerts.quiet_from_minute, 22 * 60);
  EXPECT_EQ(alerts.quiet_to_minute, 7 * 60 + 30);
  EXPECT_THAT(alerts.held, ElementsAre(AlertRank::noted));
  ASSERT_EQ(loaded.site->channels.size(), 2U);
  EXPECT_EQ(loaded.site->channels[0].after_unseen, minutes(20));
  EXPECT_EQ(loaded.site->channels[1].heartbeat, minutes(5));
  const auto profile = loaded.grow.tubs.front().profile;
  const auto& warn = profile->find("colonization")->of(Quantity::humidity)->warn;
  ASSERT_TRUE(warn);
  EXPECT_EQ(warn->off_delay, minutes(5));
  EXPECT_EQ(warn->deadband, 2.0);
}

TEST(Load, TakesDefaultsWhereTheSiteIsSilent) {
  bench::Folder folder;
  folder.write("tubwarden.yaml", "site: s\nbroker: {url: \"mqtt://[::1]:1884\"}\n");
  const Loaded loaded = folder.load();
  ASSERT_TRUE(loaded.site);
  EXPECT_EQ(loaded.site->record_folder, SiteSettings().record_folder);
  EXPECT_EQ(loaded.site->control_socket, SiteSettings().control_socket);
  EXPECT_THAT(loaded.site->channels, IsEmpty());
  EXPECT_EQ(loaded.site->alerts.again_every, hours(4));
  EXPECT_THAT(loaded.site->alerts.held, IsEmpty());
  EXPECT_EQ(loaded.site->keep_readings, days(90));
  EXPECT_EQ(loaded.site->keep_means, days(3650));
  EXPECT_EQ(loaded.site->keep_decisions, days(60));
}

TEST(Load, TakesHowLongTheHistoryIsKept) {
  bench::Folder folder;
  folder.write("tubwarden.yaml",
               "site: s\nbroker: {url: \"mqtt://[::1]:1884\"}\n"
               "record: {keep_readings: 30d, keep_means: 400d, keep_decisions: 36h}\n");
  const Loaded loaded = folder.load();
  ASSERT_TRUE(loaded.site);
  EXPECT_EQ(loaded.site->keep_readings, days(30));
  EXPECT_EQ(loaded.site->keep_means, days(400));
  EXPECT_EQ(loaded.site->keep_decisions, hours(36));
}

TEST(Load, TakesARoomOfSensors) {
  bench::Folder folder;
  folder.spoil("tubwarden.yaml", "temperature: 15 C",
               "temperature: {topic: cellar/room, at: /t, unit: F, stale_after: 5m}");
  const Loaded loaded = folder.load();
  const auto& room = loaded.grow.room.temperature;
  ASSERT_TRUE(room.sensor);
  EXPECT_EQ(room.sensor->topic, "cellar/room");
  EXPECT_EQ(room.sensor->stale_after, minutes(5));
  ASSERT_EQ(room.sensor->quantities.size(), 1u);
  EXPECT_EQ(room.sensor->quantities[0].at, "/t");
  EXPECT_EQ(room.sensor->quantities[0].unit, SensorUnit::fahrenheit);
  EXPECT_EQ(room.sensor->quantities[0].quantity, Quantity::air_temperature);
}

TEST(Load, TakesAProfile) {
  const Loaded loaded = bench::Folder().load();
  const Profile& profile = *loaded.grow.tub("tub-1")->profile;
  EXPECT_EQ(profile.name, "button");
  EXPECT_EQ(profile.text, bench::Folder().text("profiles/button.yaml"));
  const PhasePlan& spawn = *profile.find("colonization");
  const QuantityPlan bed{Keep{Keep::Form::between, 24, 25.5}, Warn{18.0, 26.0, minutes(15)}, {}};
  EXPECT_THAT(spawn.of(Quantity::substrate_temperature), Optional(bed));
  const QuantityPlan humid{Keep{Keep::Form::above, 90, 100}, Warn{80.0, {}, minutes(10)}, {}};
  EXPECT_THAT(spawn.of(Quantity::humidity), Optional(humid));
  EXPECT_FALSE(spawn.of(Quantity::co2));
  EXPECT_EQ(spawn.expect, (Expect{days(14), days(21), days(30)}));
  EXPECT_EQ(spawn.next, "fruiting");
  EXPECT_EQ(spawn.settle_temperature, hours(12));

  const PhasePlan& fruiting = *profile.find("fruiting");
  EXPECT_EQ(fruiting.of(Quantity::air_temperature)->glide, hours(48));
  const QuantityPlan co2{Keep{Keep::Form::below, 0, 1000}, Warn{{}, 1500.0, minutes(20)}, {}};
  EXPECT_THAT(fruiting.of(Quantity::co2), Optional(co2));
  EXPECT_EQ(fruiting.fresh_air, (FreshAirFloor{1, minutes(15)}));
  EXPECT_EQ(fruiting.light, (LightHours{8 * 60, 20 * 60}));
  EXPECT_EQ(fruiting.settle_temperature, hours(6));
  EXPECT_EQ(fruiting.settle_other, hours(1));
  EXPECT_EQ(loaded.grow.tub("tub-2")->profile, loaded.grow.tub("tub-1")->profile);
}

TEST(Load, TakesATubAndItsSensors) {
  const Loaded loaded = bench::Folder().load();
  const TubPlan& tub = *loaded.grow.tub("tub-1");
  EXPECT_EQ(tub.batch, "B-07");
  EXPECT_EQ(tub.phase, "colonization");
  EXPECT_EQ(tub.chamber, "tub-1");
  EXPECT_THAT(tub.substrate_kg, Optional(5.0));
  EXPECT_THAT(tub.substrate_ceiling_c, Optional(26.5));
  EXPECT_FALSE(tub.is_shelf);
  const ChamberPlan& air = *loaded.grow.chamber("tub-1");
  EXPECT_EQ(air.leader, "tub-1");
  EXPECT_EQ(air.net_volume.in("fruiting"), 40);
  ASSERT_EQ(air.sensors.size(), 2u);
  SensorPlan first;
  first.id = "air";
  first.topic = "cellar/tub-1/air";
  first.stale_after = minutes(3);
  first.time = StampPlan{"/at", StampForm::unix_ms};
  first.gone = GonePlan{"cellar/tub-1/state", "offline"};
  first.quantities = {{Quantity::humidity, "/rh", SensorUnit::percent, 1, 0, 0, 100, 2.0, {}},
                      {Quantity::air_temperature, "/t", SensorUnit::celsius, 1, 0, -20, 80, {}, {}},
                      {Quantity::co2, "/co2", SensorUnit::ppm, 1, 0, 0, 10000, {}, {}}};
  EXPECT_EQ(air.sensors[0], first);
  EXPECT_EQ(air.sensors[1].quantities[0].quantity, Quantity::substrate_temperature);
  EXPECT_EQ(air.sensors[1].quantities[0].unit, SensorUnit::fahrenheit);
  EXPECT_EQ(air.sensors[1].stale_after, minutes(2));
}

TEST(Load, TakesASensorsWholeQuantity) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "{unit: F, place: substrate}",
               "{at: /a~1b, unit: F, scale: 0.1, offset: -4, range: [32 F, 122 F], accuracy: 0.9 F,"
               " step: 0.18 F, place: substrate}");
  const Loaded loaded = folder.load();
  ASSERT_TRUE(loaded.grow.chamber("tub-1")) << testing::PrintToString(bench::told(loaded));
  const QuantitySource& q = loaded.grow.chamber("tub-1")->sensors[1].quantities[0];
  EXPECT_EQ(q.at, "/a~1b");
  EXPECT_DOUBLE_EQ(q.scale, 0.1);
  EXPECT_DOUBLE_EQ(q.offset, -4);
  EXPECT_DOUBLE_EQ(q.range_low, 0);
  EXPECT_DOUBLE_EQ(q.range_high, 50);
  EXPECT_DOUBLE_EQ(*q.accuracy, 0.5);  // a distance: 0.9 F is half a degree
  EXPECT_DOUBLE_EQ(*q.step, 0.1);
}

TEST(Load, TakesActuatorsTheirLimitsAndOutputs) {
  const Loaded loaded = bench::Folder().load();
  const auto& actuators = loaded.grow.chamber("tub-1")->actuators;
  ASSERT_EQ(actuators.size(), 3u);
  EXPECT_EQ(actuators[0].effect, Effect::humidify);
  EXPECT_THAT(actuators[0].rate, Optional(20.0));
  EXPECT_EQ(actuators[0].limits, (RunLimits{milliseconds(500), seconds(20), seconds(5), 60}));
  OutputPlan relay;
  relay.id = {"tub-1", "mister"};
  relay.driver = "mqtt_relay";
  relay.wiring_json = R"({"topic":"cellar/tub-1/mister","run":"1","rest":"0"})";
  relay.network = true;
  relay.falls_by_itself_after = seconds(30);
  EXPECT_EQ(actuators[0].output, relay);
  OutputPlan board;
  board.id = {"tub-1", "fan"};
  board.driver = "board";
  board.wiring_json = R"({"line":"17","every":"2000ms"})";
  board.safe = kRun;
  board.lease = seconds(9);
  EXPECT_EQ(actuators[1].output, board);
  EXPECT_EQ(actuators[1].limits, default_limits(Effect::fresh_air));
  EXPECT_EQ(actuators[2].limits, default_limits(Effect::heat));
}

TEST(Load, TakesASafeLevelBetween) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "safe: run", "safe: 12.5 %\n      own_process: true");
  const Loaded loaded = folder.load();
  ASSERT_TRUE(loaded.grow.chamber("tub-1")) << testing::PrintToString(bench::told(loaded));
  EXPECT_EQ(loaded.grow.chamber("tub-1")->actuators[1].output.safe, 125u);
  EXPECT_TRUE(loaded.grow.chamber("tub-1")->actuators[1].output.own_process);
}

TEST(Load, TakesASafeLevelBetweenOfARelayWithAPeriod) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "safe: rest\n      falls_by_itself_after: 30s",
               "safe: 30 %\n      period: 40s\n      falls_by_itself_after: 30s");
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("tubs/tub-1.yaml:27:13: warning: mister runs for its share of each "
                          "period only while the daemon lives; once that has ended, it rests"));
  ASSERT_TRUE(loaded.grow.chamber("tub-1"));
  const OutputPlan& relay = loaded.grow.chamber("tub-1")->actuators[0].output;
  EXPECT_EQ(relay.safe, 300u);
  EXPECT_EQ(relay.period, Duration(seconds(40)));
  EXPECT_EQ(relay.shortest_run, Duration(milliseconds(500)));
}

TEST(Load, TakesVolumesByPhaseAndTheLargestElsewhere) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "net_volume: 40 L",
               "net_volume: {colonization: 45 L, fruiting: 0.038 m3}");
  const Loaded loaded = folder.load();
  const NetVolume& volume = loaded.grow.chamber("tub-1")->net_volume;
  EXPECT_DOUBLE_EQ(volume.in("fruiting"), 38);
  EXPECT_DOUBLE_EQ(volume.in("colonization"), 45);
  EXPECT_DOUBLE_EQ(volume.in("grain"), 45);
}

TEST(Load, TakesNextAsANameOrAsWhenItIsDue) {
  bench::Folder folder;
  folder.spoil(
      "profiles/button.yaml", "    next: fruiting\n",
      "    next:\n"
      "      phase: fruiting\n"
      "      after: 14d\n"
      "      when: {substrate_temperature: {below: 64.4 F, for: 12h}, co2: {above: 900 ppm}}\n"
      "      how: go\n");
  folder.spoil("profiles/button.yaml", "    settle: {temperature: 6h}\n",
               "    settle: {temperature: 6h}\n    next: rest\n"
               "  - {phase: rest, stage_of: fruiting, next: fruiting}\n");
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded), IsEmpty());
  const Profile& profile = *loaded.grow.tub("tub-1")->profile;
  const PhasePlan& due = *profile.find("colonization");
  EXPECT_EQ(due.next, "fruiting");
  EXPECT_EQ(due.next_plan.after, Duration(hours(14 * 24)));
  EXPECT_EQ(due.next_plan.how, NextPlan::How::go);
  const auto& cool = due.next_plan.when[index_of(Quantity::substrate_temperature)];
  ASSERT_TRUE(cool);
  EXPECT_NEAR(*cool->below, 18.0, 1e-9);
  EXPECT_FALSE(cool->above);
  EXPECT_EQ(cool->lasting, Duration(hours(12)));
  const auto& stale = due.next_plan.when[index_of(Quantity::co2)];
  ASSERT_TRUE(stale);
  EXPECT_EQ(stale->above, 900.0);
  EXPECT_EQ(stale->lasting, Duration(minutes(10))) << "its default";
  EXPECT_EQ(profile.find("fruiting")->next, "rest");
  EXPECT_FALSE(profile.find("fruiting")->next_plan.judged());
  EXPECT_EQ(profile.find("rest")->stage_of, "fruiting");
}

TEST(Load, GivesAStageTheAirOfItsLoop) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "net_volume: 40 L",
               "net_volume: {colonization: 45 L, fruiting: 38 L, rest: 39 L}");
  folder.spoil("profiles/button.yaml", "  - phase: empty\n",
               "  - {phase: rest, stage_of: fruiting}\n"
               "  - {phase: drying, stage_of: fruiting}\n  - phase: empty\n");
  const NetVolume volume = folder.load().grow.chamber("tub-1")->net_volume;
  EXPECT_DOUBLE_EQ(volume.in("drying"), 38);
  EXPECT_DOUBLE_EQ(volume.in("rest"), 39) << "its own stands";
}

TEST(Load, TakesTheOnlyTubOfAChamberAsItsLeader) {
  bench::Folder folder;
  folder.spoil("chambers/closet.yaml", "leader: tub-2\n", "");
  EXPECT_EQ(folder.load().grow.chamber("closet")->leader, "tub-2");
}

TEST(Load, KnowsEmptyWithoutAPhaseOfThatName) {
  bench::Folder folder;
  folder.spoil("profiles/button.yaml", "  - phase: empty\n", "");
  folder.spoil("tubs/tub-2.yaml", "phase: colonization", "phase: empty");
  const Loaded loaded = folder.load();
  EXPECT_THAT(bench::told(loaded), IsEmpty());
  EXPECT_EQ(loaded.grow.tub("tub-2")->phase, "empty");
}

TEST(Load, LeavesWiringUncheckedWhereNoPluginsAreKnown) {
  bench::Folder folder;
  folder.spoil("tubs/tub-1.yaml", "{line: 17, every: 2s}", "{anything: [1, {x: 2}]}");
  const Loaded loaded = load_folder(folder.path(), {});
  EXPECT_THAT(bench::told(loaded),
              ElementsAre("tubwarden.yaml: warning: no plugins are known, so no wiring was "
                          "checked"));
  EXPECT_EQ(loaded.grow.chamber("tub-1")->actuators[1].output.wiring_json,
            R"({"anything":["1",{"x":"2"}]})");
}

TEST(CheckReport, TellsEachFindingThenSumsUp) {
  bench::Folder folder;
  EXPECT_EQ(check_report(folder.load()), "no errors in 5 files\n");
  folder.spoil("tubs/tub-2.yaml", "phase: colonization", "phase: colonisation");
  EXPECT_EQ(check_report(folder.load()),
            "tubs/tub-2.yaml:4:8: button has no phase 'colonisation'; nearest is 'colonization'; "
            "allowed: grain, colonization, fruiting, empty\n"
            "1 error in 5 files; left out until mended: tub-2\n");
  folder.spoil("tubs/tub-1.yaml", "falls_by_itself_after: 30s", "falls_by_itself_after: never");
  folder.spoil("tubs/tub-2.yaml", "batch: B-08\n", "");
  const std::string report = check_report(folder.load());
  EXPECT_THAT(report, testing::EndsWith("\n2 errors, 1 warning in 5 files; left out until mended: "
                                        "tub-2\n"));
}

}  // namespace
}  // namespace tubwarden
