// The real daemon while its wall clock is wrong, is set, and jumps. The machine's clock is not
// touched: libfaketime answers in its place, in the daemon alone, and for the wall time alone.
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>

#include "../daemon/rig.hpp"
#include "base/text.hpp"
#include "manager.hpp"

namespace {

using namespace rig;

const std::string kMister = "shed/tub-1/mister";

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr bool kSanitized = true;  // its runtime must be the first library
#else
constexpr bool kSanitized = false;
#endif

std::string library() {
  namespace fs = std::filesystem;
  std::error_code code;
  for (const auto& folder : fs::directory_iterator("/usr/lib", code)) {
    const fs::path found = folder.path() / "faketime/libfaketimeMT.so.1";
    if (fs::exists(found, code)) return found;
  }
  return "";
}

struct WallClock : Rig, ::testing::Test {
  void SetUp() override {
    if (kSanitized) GTEST_SKIP() << "libfaketime and a sanitizer cannot both come first";
    if (library().empty()) GTEST_SKIP() << "no libfaketime here";
    write_tub({});
    environment = {"LD_PRELOAD=" + library(),
                   "FAKETIME_TIMESTAMP_FILE=" + (folder().path() / "wall").string(),
                   "FAKETIME_NO_CACHE=1",
                   "FAKETIME_DONT_FAKE_MONOTONIC=1",  // and the boot clock with it
                   "FAKETIME_ONLY_CMDS=tubwardend",
                   "NO_FAKE_STAT=1"};
  }
  /// The daemon's wall clock from now on: the true one and this much.
  void shift(std::chrono::seconds by) {
    const auto s = by.count();
    folder().write_by_rename("wall", (s < 0 ? "" : "+") + std::to_string(s) + "\n");
  }
  /// As a board without a battery clock: seconds after 1970 began.
  void shift_to_1970() {
    shift(-std::chrono::duration_cast<std::chrono::seconds>(
              std::chrono::system_clock::now().time_since_epoch()) +
          100s);
  }
  void begin() {
    start();
    ASSERT_EQ(cli({"phase", "tub-1", "fruiting"}).status, 0);
    relay = std::make_unique<parts::Listener>(broker().url(), std::vector<std::string>{kMister});
  }
  bool clock_set() { return status()["clock_set"].get<bool>(); }
  std::size_t runs() {
    const auto all = payloads(*relay, kMister);
    return static_cast<std::size_t>(std::count(all.begin(), all.end(), "1"));
  }
  std::size_t rests() {
    const auto all = payloads(*relay, kMister);
    return static_cast<std::size_t>(std::count(all.begin(), all.end(), "0"));
  }
  bool hears(const std::string& payload, std::size_t from) {
    return relay
        ->wait_for(
            kMister, [&](const parts::Heard& h) { return h.payload == payload; }, 10s, from)
        .has_value();
  }
  /// A jump, and signs that turns have been made on the new time.
  void jump(std::chrono::seconds to) {
    const double before = at_s();
    const auto began = parts::Steady::now();
    shift(to);
    ASSERT_TRUE(wait([&] {
      const double passed = std::chrono::duration<double>(parts::Steady::now() - began).count();
      return std::abs(at_s() - before - passed) > 600;
    })) << "the daemon's clock has jumped";
    publish("shed/tub-1/bed", "63");
  }
  /// The daemon's own wall time in seconds; 0 while it is unset.
  double at_s() {
    const json at = status()["at"];
    if (!at.is_string()) return 0;
    const auto t = tubwarden::parse_rfc3339(at.get<std::string>());
    return static_cast<double>(t.value().time_since_epoch().count()) / 1000.0;
  }
  bool reading_usable() {
    for (const json& q : json(chamber("tub-1")["air"])) {
      if (q["quantity"] == "humidity") return q["usable"].get<bool>();
    }
    return false;
  }
  std::unique_ptr<parts::Listener> relay;
};

TEST_F(WallClock, ABoardThatStartsIn1970IsControlledAndKnowsTheTimeOnceItIsSet) {
  shift_to_1970();
  stay::Manager manager;
  environment.push_back(manager.environment());
  begin();
  EXPECT_TRUE(manager.heard("READY=1"));
  EXPECT_FALSE(clock_set());
  EXPECT_TRUE(status()["at"].is_null());
  const double began = tub("tub-1")["elapsed_s"].get<double>();

  air("tub-1", 80.0);
  ASSERT_TRUE(hears("1", 0)) << "control needs no wall clock\n" << log();
  const std::size_t n = relay->heard(kMister).size();
  const auto rows = timeline("B-01");
  ASSERT_FALSE(rows.empty());
  EXPECT_FALSE(rows[0]["clock_set"].get<bool>()) << "what was written before is marked";

  shift(0s);  // the network has told the time
  ASSERT_TRUE(wait([&] { return clock_set(); }, 15s)) << log();
  EXPECT_EQ(relay->heard(kMister).size(), n) << "and the mister did not notice";
  EXPECT_TRUE(reading_usable());
  EXPECT_LT(tub("tub-1")["elapsed_s"].get<double>() - began, 60)
      << "fifty years of clock are no phase time";
  EXPECT_TRUE(alert_causes("tub-1").empty());

  air("tub-1", 88.0);
  EXPECT_TRUE(hears("0", n));
  ASSERT_EQ(cli({"phase", "tub-1", "empty"}).status, 0);
  const auto after = timeline("B-01");
  // What was written before has got its time; what is written since had one.
  ASSERT_GT(after.size(), rows.size());
  const double now_s = at_s();
  for (std::size_t i = 0; i < after.size(); ++i) {
    EXPECT_TRUE(after[i]["clock_set"].get<bool>()) << after[i].dump();
    EXPECT_EQ(after[i]["mended"].get<bool>(), i < rows.size()) << after[i].dump();
    const auto t = tubwarden::parse_rfc3339(after[i]["at"].get<std::string>());
    const double ago = now_s - static_cast<double>(t.value().time_since_epoch().count()) / 1000.0;
    EXPECT_GE(ago, -2) << after[i].dump();
    EXPECT_LT(ago, 120) << after[i].dump();
  }
  // So has the reading.
  ASSERT_TRUE(wait([&] {
    const std::string csv = cli({"history", "tub-1", "--every", "1s", "--csv"}).out;
    return csv.find(",80") != std::string::npos && csv.find(",88") != std::string::npos;
  })) << cli({"history", "tub-1", "--every", "1s", "--csv"}).out;
}

TEST_F(WallClock, JumpsByHoursMoveNoOutputAndMakeNothingStale) {
  shift(0s);
  begin();
  air("tub-1", 80.0);
  ASSERT_TRUE(hears("1", 0)) << log();
  const std::size_t n = relay->heard(kMister).size();
  for (const auto by : {5h, -5h, 30h, -1h, 0h}) {
    jump(by);
    EXPECT_EQ(relay->heard(kMister).size(), n) << "while it runs, by " << by.count() << " h";
    EXPECT_TRUE(reading_usable());
    EXPECT_TRUE(clock_set());
  }
  EXPECT_EQ(actuator("tub-1", "mister")["level_pct"], 100.0);
  air("tub-1", 88.0);
  ASSERT_TRUE(hears("0", n));
  const std::size_t starts = runs(), stops = rests();
  for (const auto by : {-7h, 7h, 0h}) jump(by);
  EXPECT_EQ(runs(), starts) << "while it rests";
  EXPECT_EQ(rests(), stops);
  EXPECT_TRUE(alert_causes("tub-1").empty()) << json(status()["alerts"]).dump();
  EXPECT_LT(tub("tub-1")["elapsed_s"].get<double>(), 120);
  air("tub-1", 80.0);
  EXPECT_TRUE(wait([&] { return runs() == starts + 1; })) << "and goes on as before";
}

}  // namespace
