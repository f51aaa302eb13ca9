// `tubwarden rehearse --fit` as a person runs it: a record on disk with what a world did, read by
// the real program, without a daemon.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "parts/parts.hpp"
#include "shell/record/sqlite_record.hpp"
#include "unit/rehearsal/fit_rig.hpp"

namespace cli_test {
namespace {

using namespace tubwarden;
using namespace tubwarden::rehearsal;
using nlohmann::json;
using testing::HasSubstr;

/// 2026-11-24 08:00 UTC.
constexpr WallTime kBegin{milliseconds(1795507200000)};

void write_file(const std::filesystem::path& path, const std::string& text) {
  std::filesystem::create_directories(path.parent_path());
  std::ofstream(path) << text;
}

/// The rig's tub as a grower writes it.
std::string write_folder(const std::filesystem::path& at) {
  write_file(at / "tubwarden.yaml",
             "site: cellar\nbroker: {url: \"mqtt://127.0.0.1:1883\"}\nrecord: {folder: " +
                 (at / "record").string() + "}\nroom: {temperature: 20 C, humidity: 50 %}\n");
  write_file(at / "profiles/button.yaml",
             "profile: button\nphases:\n  - phase: fruiting\n    humidity: {keep: [85 %, 90 %]}\n"
             "    co2: {keep_below: 1000 ppm}\n");
  write_file(
      at / "tubs/tub.yaml",
      "tub: tub\nbatch: B-07\nprofile: button\nphase: fruiting\nsubstrate: 5 kg\n"
      "substrate_ceiling: 26.5 C\nair:\n  net_volume: 40 L\n  sensors:\n    - id: air\n"
      "      topic: t/air\n      humidity: {at: /rh}\n      temperature: {at: /t, place: air}\n"
      "      co2: {at: /co2}\n      stale_after: 2m\n  actuators:\n    - id: mister\n"
      "      effect: humidify\n      rate: 40 g/h\n      driver: mqtt_relay\n"
      "      wiring: {topic: t/mister, run: \"1\", rest: \"0\"}\n      safe: rest\n"
      "      falls_by_itself_after: never\n"
      "      limits: {shortest_run: 500ms, shortest_rest: 20s, longest_run: 5s}\n"
      "    - id: fan\n      effect: fresh_air\n      rate: 2 m3/h\n      driver: mqtt_relay\n"
      "      wiring: {topic: t/fan, run: \"1\", rest: \"0\"}\n      safe: rest\n"
      "      falls_by_itself_after: never\n");
  return at.string();
}

WallTime wall_of(double at_s) {
  return kBegin + milliseconds(static_cast<std::int64_t>(at_s * 1e3));
}
Instant boot_of(double at_s) { return Instant(seconds(1000)) + from_seconds(at_s); }

void write_record(const std::string& folder, const TubHistory& history) {
  auto record = SqliteRecord::open({folder, "boot-a"}, [](auto work) { work(); });
  ASSERT_TRUE(record.ok()) << record.error().text;
  std::size_t given = 0;
  const auto reading = [&](const std::string& sensor, const HeardReading& r, double value) {
    (*record)->reading({"tub", sensor, r.quantity, value, wall_of(r.at_s), true, boot_of(r.at_s)});
    ++given;
  };
  for (const HeardReading& r : history.readings) {
    reading("air", r, r.value);
    // A second sensor beside the first is none of the fit's business.
    if (given % 50 == 0) reading("beside", r, 1.0);
    if (given % 5000 != 0) continue;
    ASSERT_TRUE(parts::wait_until([&] { return (*record)->counters().readings + 5000 >= given; },
                                  std::chrono::seconds(10)));
  }
  for (const HeardRun& run : history.runs) {
    (*record)->run({"tub", run.actuator == 0 ? "mister" : "fan", run.level,
                    Stamp{wall_of(run.from_s), true, "boot-a", boot_of(run.from_s)},
                    from_seconds(run.to_s - run.from_s)});
  }
  (*record)->close();
}

parts::Ran fit(std::vector<std::string> words) {
  std::vector<std::string> argv = {std::string(TUBWARDEN_BIN_DIR) + "/tubwarden", "--socket",
                                   "/nowhere/control.sock", "rehearse"};
  argv.insert(argv.end(), words.begin(), words.end());
  argv.push_back("--fit");
  return parts::run(argv);
}

TEST(FitProgram, FindsTheFiguresOfATubInItsRecordOnDisk) {
  parts::TempFolder folder;
  const std::string at = write_folder(folder.path());
  fit_test::Truth truth;
  truth.load = Load::flush;
  truth.mist_g_h = 54.0;
  truth.leak_per_h = 2.0;
  const WorldPlan world = fit_test::world_of(truth, 11);
  write_record(at + "/record", fit_test::history_of(world, hours(3)));

  const parts::Ran ran = fit({at, "--until", "2026-11-24T11:00:01Z", "--json"});
  ASSERT_EQ(ran.status, 0) << ran.err;
  const json told = json::parse(ran.out);
  ASSERT_EQ(told["airs"].size(), 1u);
  const json& air = told["airs"][0];
  EXPECT_EQ(air["chamber"], "tub");
  EXPECT_EQ(air["phase"], "fruiting");
  std::map<std::string, json> figures;
  for (const json& f : air["figures"]) figures[f["figure"]] = f;
  ASSERT_TRUE(figures.contains("mist_g_h")) << ran.out;
  EXPECT_NEAR(figures["mist_g_h"]["value"].get<double>(), 54.0, 1.5);
  EXPECT_LT(figures["mist_g_h"]["low"], figures["mist_g_h"]["value"]);
  EXPECT_LT(figures["mist_g_h"]["value"], figures["mist_g_h"]["high"]);
  EXPECT_NEAR(figures["leak_per_h"]["value"].get<double>(), 2.0, 0.6);
  EXPECT_FALSE(figures.contains("bed_loss_w_k"));
  for (const json& f : air["figures"]) {
    EXPECT_EQ(f["value"].is_null(), !f["told"].get<bool>()) << f;
  }
  EXPECT_THAT(ran.out, HasSubstr("\"key\": \"rate\""));

  const parts::Ran page = fit({at, "--until", "2026-11-24T11:00:01Z"});
  EXPECT_EQ(page.status, 0) << page.err;
  EXPECT_THAT(page.out, HasSubstr("cellar: the model fitted to what the tubs did\n"));
  EXPECT_THAT(page.out, HasSubstr("\n  mist at full level"));
  EXPECT_THAT(page.out, testing::ContainsRegex("\n  - mister rate: 5[345] g/h instead of 40 g/h."));
}

TEST(FitProgram, SaysWhatIsMissing) {
  parts::TempFolder folder;
  const std::string at = write_folder(folder.path());
  parts::Ran ran = fit({at});
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr("no daemon answers at /nowhere/control.sock"));
  EXPECT_THAT(ran.err, HasSubstr("and there is no record in " + at + "/record"));
  EXPECT_FALSE(std::filesystem::exists(at + "/record"));

  write_record(at + "/record", {});
  ran = fit({at});
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr("nothing could be fitted\ntub: this history is "));

  for (const std::vector<std::string>& wrong : {std::vector<std::string>{at, "--history", "1h"},
                                                {at, "--history", "8d"},
                                                {at, "--days", "3"},
                                                {at, "--until", "yesterday"}}) {
    ran = fit(wrong);
    EXPECT_EQ(ran.status, 2) << wrong[1];
    EXPECT_THAT(ran.err, HasSubstr(wrong[1])) << wrong[1];
  }
}

}  // namespace
}  // namespace cli_test
