#include "fault/campaign/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <random>

namespace tubwarden::campaign {

namespace {

constexpr milliseconds kScene{4000};

class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  /// Of 0..n-1, the same on every machine.
  std::uint64_t of(std::uint64_t n) { return engine_() % n; }
  milliseconds between(int low, int high) {
    return milliseconds(low + static_cast<int>(of(static_cast<std::uint64_t>(high - low + 1))));
  }
  template <class Items>
  const auto& one(const Items& items) {
    return items[of(items.size())];
  }

 private:
  std::mt19937_64 engine_;
};

std::vector<Output> outputs(Dice& dice) {
  std::vector<Output> all = {{"alone", "simulated", true, dice.between(900, 2000)},
                             {"left", "simulated", false, dice.between(900, 2000)},
                             {"right", "simulated", false, dice.between(900, 2000)},
                             {"relay", "mqtt_relay", false, dice.between(3000, 3600)}};
  std::vector<std::string> faulty = {"hang_in_apply", "crash_in_apply", "garbage", "chatter",
                                     "eat_memory"};
  for (int i = 0; i < 2; ++i) {
    const std::string driver = dice.one(faulty);
    std::erase(faulty, driver);
    all.push_back({driver, driver, true, dice.between(900, 2000)});
  }
  return all;
}

Step command(Dice& dice, const std::vector<Output>& all) {
  Step step{dice.between(0, static_cast<int>(kScene.count())), Act::run, dice.one(all).id, {}};
  switch (dice.of(4)) {
    case 0:
      step.act = Act::rest;
      break;
    case 1:
      step.length = dice.between(100, 700);
      break;
    case 2:
    case 3:
      break;
  }
  return step;
}

Step fault(Dice& dice, const std::vector<Output>& all) {
  static const std::vector<Act> kFaults = {Act::kill_host, Act::kill_host,   Act::stop_host,
                                           Act::stop_host, Act::stop_daemon, Act::cut_broker};
  Step step{dice.between(200, static_cast<int>(kScene.count()) - 200), dice.one(kFaults), "", {}};
  if (step.act == Act::kill_host || step.act == Act::stop_host) step.output = dice.one(all).id;
  if (step.act == Act::stop_host || step.act == Act::stop_daemon) {
    step.length = dice.between(50, 3500);
  }
  return step;
}

}  // namespace

Scene draw(std::uint64_t seed) {
  Dice dice(seed);
  Scene scene;
  scene.seed = seed;
  scene.outputs = outputs(dice);
  const std::uint64_t faults = 1 + dice.of(5);
  for (std::uint64_t i = 0; i < faults; ++i) scene.steps.push_back(fault(dice, scene.outputs));
  for (int i = 0; i < 24; ++i) scene.steps.push_back(command(dice, scene.outputs));
  // All run at first, so that there is something to make safe.
  for (const Output& output : scene.outputs) scene.steps.push_back({{}, Act::run, output.id, {}});
  std::stable_sort(scene.steps.begin(), scene.steps.end(),
                   [](const Step& a, const Step& b) { return a.at < b.at; });
  static const std::vector<Act> kEnds = {Act::end, Act::kill_daemon, Act::kill_all};
  scene.steps.push_back({kScene, dice.one(kEnds), "", {}});
  return scene;
}

const char* name_of(Act act) {
  switch (act) {
    case Act::run:
      return "run";
    case Act::rest:
      return "rest";
    case Act::kill_host:
      return "kill the host of";
    case Act::stop_host:
      return "stop the host of";
    case Act::stop_daemon:
      return "stop the daemon";
    case Act::kill_daemon:
      return "kill the daemon";
    case Act::kill_all:
      return "kill all";
    case Act::cut_broker:
      return "cut the broker's connections";
    case Act::end:
      return "ask the daemon to end";
  }
  return "";
}

std::string told(const Scene& scene) {
  std::string text = fmt::format("seed {}\n", scene.seed);
  for (const Output& o : scene.outputs) {
    text += fmt::format("  output {} ({}), lease {} ms\n", o.id, o.driver, o.lease.count());
  }
  for (const Step& s : scene.steps) {
    text += fmt::format("  {:5} ms  {} {}", s.at.count(), name_of(s.act), s.output);
    text += s.length.count() > 0 ? fmt::format(" for {} ms\n", s.length.count()) : "\n";
  }
  return text;
}

}  // namespace tubwarden::campaign
