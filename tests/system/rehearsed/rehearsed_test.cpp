// The rehearsal and the real thing are the same control: the demonstration's folder run by
// tubwardend over a real mosquitto against tubwarden-chamber, and by the rehearsal's world from the
// same start with the same seed.
#include <gtest/gtest.h>
#include <signal.h>
#include <time.h>

#include <cmath>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>

#include "parts/parts.hpp"
#include "rehearsal/grow.hpp"
#include "settings/settings.hpp"
#include "shell/hosts/describe.hpp"

namespace {

using namespace std::chrono_literals;
using namespace tubwarden;
using nlohmann::json;
using parts::Steady;

constexpr std::uint64_t kSeed = 1;
const std::string kBin = TUBWARDEN_BIN_DIR;
const std::string kAir = "brickyard/crate-1/air";
const std::string kMister = "brickyard/crate-1/mister/now";
const std::string kFan = "brickyard/crate-1/fan/now";

/// What is compared, of either side; times in seconds since the first reading.
struct Course {
  std::vector<std::pair<double, double>> humidity;
  std::map<std::string, std::vector<double>> starts;

  std::vector<double> minute_means(int minutes) const {
    std::vector<double> sums(static_cast<std::size_t>(minutes)), counts(sums.size());
    for (const auto& [at, value] : humidity) {
      const auto minute = static_cast<std::size_t>(at / 60.0);
      if (minute >= sums.size()) continue;
      sums[minute] += value;
      counts[minute] += 1.0;
    }
    for (std::size_t i = 0; i < sums.size(); ++i) sums[i] /= std::max(counts[i], 1.0);
    return sums;
  }
};

int minutes_wanted() {
  const char* given = std::getenv("TUBWARDEN_MINUTES");
  const int minutes = given != nullptr ? std::atoi(given) : 10;
  return std::max(minutes, 1);
}

double second_of_day() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  localtime_r(&now, &local);
  return local.tm_hour * 3600.0 + local.tm_min * 60.0 + local.tm_sec;
}

/// config/demo as config/demo/run fills it in.
void copy_demo(const parts::TempFolder& folder, std::uint16_t port) {
  const std::filesystem::path from = std::string(TUBWARDEN_SOURCE_DIR) + "/config/demo";
  for (const char* file : {"tubwarden.yaml", "profiles/crate.yaml", "tubs/crate-1.yaml"}) {
    std::string text = parts::read_file(from / file);
    const auto fill = [&](const std::string& mark, const std::string& with) {
      for (std::size_t at; (at = text.find(mark)) != std::string::npos;) {
        text.replace(at, mark.size(), with);
      }
    };
    fill("@PORT@", std::to_string(port));
    fill("@SHEET@", std::to_string(parts::free_port()));
    fill("@HERE@", folder.path().string());
    folder.write(std::string("config/") + file, text);
  }
}

/// The daemon first, its outputs ready and its phase confirmed; then the tub, whose model begins as
/// it starts. Nothing is decided before its first reading.
Course run_really(rehearsal::Load load, int minutes, double& began_second_of_day) {
  parts::TempFolder folder;
  parts::Mosquitto broker;
  copy_demo(folder, broker.port());
  const std::string config = (folder.path() / "config").string();
  const std::string socket = (folder.path() / "control.sock").string();
  parts::Listener listener(broker.url(), {"brickyard/#"});
  parts::Process daemon(
      {kBin + "/tubwardend", "--config", config, "--plugins", TUBWARDEN_PLUGIN_DIR});
  const auto cli = [&](std::vector<std::string> words) {
    std::vector<std::string> argv = {kBin + "/tubwarden", "--socket", socket};
    argv.insert(argv.end(), words.begin(), words.end());
    return parts::run(argv);
  };
  const auto ready = [&] {
    const parts::Ran ran = cli({"status", "--json"});
    if (ran.status != 0) return false;
    const json status = json::parse(ran.out);
    if (!status["broker"]["up"].get<bool>()) return false;
    for (const json& a : status["chambers"][0]["actuators"]) {
      if (a["health"] != "ready") return false;
    }
    return true;
  };
  if (!parts::wait_until(ready, 20s)) throw std::runtime_error("the daemon: " + daemon.err());
  const parts::Ran phase = cli({"phase", "crate-1", "pinning"});
  if (phase.status != 0) throw std::runtime_error(phase.err);
  listener.clear();
  began_second_of_day = second_of_day();
  parts::Process tub({kBin + "/tubwarden-chamber", "--config", config, "--plugins",
                      TUBWARDEN_PLUGIN_DIR, "--load", std::string(rehearsal::name_of(load)),
                      "--every", "1s", "--seed", std::to_string(kSeed)});
  if (!listener.wait_for(
          kAir, [](const auto&) { return true; }, 20s)) {
    throw std::runtime_error("the tub: " + tub.err());
  }
  const auto begin = listener.heard(kAir).front().at;
  const auto end = begin + std::chrono::minutes(minutes);
  parts::wait_until([&] { return Steady::now() >= end; }, std::chrono::minutes(minutes + 1));

  Course course;
  const auto since = [&](Steady::time_point at) {
    return std::chrono::duration<double>(at - begin).count();
  };
  for (const parts::Heard& heard : listener.heard()) {
    if (heard.at >= end) continue;
    if (heard.topic == kAir) {
      course.humidity.emplace_back(since(heard.at), json::parse(heard.payload)["rh"].get<double>());
    }
    // What a relay says of itself; the one a tub says at its begin is a rest.
    if (heard.topic == kMister && heard.payload == "1")
      course.starts["mister"].push_back(since(heard.at));
    if (heard.topic == kFan && heard.payload == "1")
      course.starts["fan"].push_back(since(heard.at));
  }
  tub.signal(SIGTERM);
  daemon.signal(SIGTERM);
  tub.wait(10s);
  daemon.wait(10s);
  return course;
}

class Onlooker : public rehearsal::Observer {
 public:
  explicit Onlooker(const ChamberPlan& chamber) : chamber_(chamber) {}
  Course course;

  void passed(Duration, double, const std::array<double, kQuantities>&) override {}
  void kept(Duration, const rehearsal::Bands&) override {}
  void heard(Duration at, std::size_t, Quantity quantity, double value) override {
    if (quantity == Quantity::humidity) course.humidity.emplace_back(seconds_of(at), value);
  }
  void switched(Duration at, std::size_t actuator, Level level, double) override {
    if (level > kRest) course.starts[chamber_.actuators[actuator].id].push_back(seconds_of(at));
  }
  void alerted(Duration, const AlertChange&) override {}
  void entered(Duration, const std::string&, const std::string&) override {}
  void watered(Duration, double) override {}

 private:
  const ChamberPlan& chamber_;
};

/// The same folder; what tubwarden-chamber begins with instead of a rehearsal's midnight.
Course rehearse(rehearsal::Load load, int minutes, double at_second_of_day, std::uint64_t seed) {
  parts::TempFolder folder;
  copy_demo(folder, 1883);
  const PluginCatalogue plugins =
      describe_all(TUBWARDEN_PLUGIN_DIR, kBin + "/tubwarden-plugin-host");
  const Loaded loaded = load_folder(folder.path() / "config", plugins);
  rehearsal::GrowOrder order;
  order.length = std::chrono::minutes(minutes);
  order.seed = seed;
  order.room = rehearsal::room_day_of(loaded.grow.room);
  order.start_second_of_day = at_second_of_day;
  auto planned = rehearsal::plan_grow(loaded.grow, order);
  if (!planned.ok()) throw std::runtime_error(planned.error().text);
  rehearsal::WorldPlan plan = planned->airs.at(0).plan;
  const rehearsal::StartAir usual;
  plan.start = {order.room.mean_c, usual.humidity_pct, order.room.co2_ppm, at_second_of_day, {}};
  plan.rhythm = {seconds(1)};
  if (load == rehearsal::Load::empty) {
    plan.beds.clear();
    const rehearsal::SensorTraits sensors = plan.model.sensors;
    plan.model = rehearsal::parameters_of(load, plan.model.tub.net_air_l);
    plan.model.sensors = sensors;
  }
  Onlooker onlooker(plan.chamber);
  rehearsal::World world(plan);
  world.observe(&onlooker);
  world.run(order.length);
  world.observe(nullptr);
  return onlooker.course;
}

/// Portions hang on thresholds, so one course may begin a mist where its twin does not. What a
/// seed is worth stands beside: the starts are judged by the mean of these.
constexpr std::uint64_t kSeeds = 8;

std::size_t starts_of(Course& course) {
  return course.starts["mister"].size() + course.starts["fan"].size();
}

class Rehearsed : public testing::TestWithParam<rehearsal::Load> {};

TEST_P(Rehearsed, TheDaemonOverARealBrokerDoesWhatTheRehearsalDid) {
  const int minutes = minutes_wanted();
  double at_second_of_day = 0.0;
  Course real = run_really(GetParam(), minutes, at_second_of_day);
  Course played = rehearse(GetParam(), minutes, at_second_of_day, kSeed);
  ASSERT_GE(real.humidity.size(), static_cast<std::size_t>(minutes * 55));
  ASSERT_GE(played.humidity.size(), static_cast<std::size_t>(minutes * 55));

  const auto real_means = real.minute_means(minutes), played_means = played.minute_means(minutes);
  double most = 0.0, sum = 0.0;
  for (std::size_t i = 0; i < real_means.size(); ++i) {
    const double off = std::fabs(real_means[i] - played_means[i]);
    std::printf("minute %2zu: %.2f %% really, %.2f %% rehearsed\n", i + 1, real_means[i],
                played_means[i]);
    most = std::max(most, off);
    sum += off;
  }
  const auto load = std::string(rehearsal::name_of(GetParam()));
  std::printf("rh_off_most.%s %.2f %%\nrh_off_mean.%s %.2f %%\n", load.c_str(), most, load.c_str(),
              sum / minutes);
  EXPECT_LT(most, 2.0) << "humidity, mean of a minute";

  double all = 0.0;
  for (std::uint64_t seed = kSeed; seed < kSeed + kSeeds; ++seed) {
    Course other = rehearse(GetParam(), minutes, at_second_of_day, seed);
    std::printf("rehearsed with seed %d: mister %zu, fan %zu starts\n", static_cast<int>(seed),
                other.starts["mister"].size(), other.starts["fan"].size());
    all += static_cast<double>(starts_of(other));
  }
  const double usual = all / kSeeds;
  const auto really = static_cast<double>(starts_of(real));
  std::printf("really: mister %zu, fan %zu starts\n", real.starts["mister"].size(),
              real.starts["fan"].size());
  ASSERT_GT(usual, 0.0);
  // In less than ten minutes there are few of them.
  EXPECT_NEAR(really, usual, std::max(0.2 * usual, minutes < 10 ? 2.0 : 0.0)) << "starts";
}

INSTANTIATE_TEST_SUITE_P(Loads, Rehearsed,
                         testing::Values(rehearsal::Load::empty, rehearsal::Load::pinning),
                         [](const auto& of) { return std::string(rehearsal::name_of(of.param)); });

}  // namespace
