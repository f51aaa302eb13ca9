// How long a small tub's air is where it should be, by control and load, over drawn tubs; and how
// long the rehearsal of a grow takes, with the model alone beside it. What is drawn: ranges.yaml.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <atomic>
#include <ctime>
#include <exception>
#include <map>
#include <mutex>
#include <thread>

#include "bench/climate/tubs.hpp"

namespace {

using namespace tubwarden;
using rehearsal::Load;
using rehearsal::World;

constexpr Duration kJudged = hours(24);
constexpr int kGrowDays = 60;

struct Options {
  std::string folder;  // of tests/bench/run; nothing is written
  std::string ranges = BENCH_RANGES;
  unsigned jobs = 1;
  std::optional<int> sets;
  std::vector<std::string> controls = {"portions", "plain"};
  std::vector<std::string> loads = {"empty", "pinning", "flush"};
  std::vector<std::string> limits = {"limits", "wide"};
  bool coarse = false;
  bool each = false;
  bool grow = true;
};

struct Run {
  bench::Asked asked;
  double in_band_pct = 0.0, in_band_sensed_pct = 0.0;
  double starts_per_day = 0.0, fan_starts_per_day = 0.0, water_g_per_day = 0.0;
  std::vector<std::string> broken;
};

Control control_named(const std::string& word) {
  return word == "plain" ? Control::hysteresis : Control::portions;
}
std::string_view word_of(Control control) {
  return control == Control::portions ? "portions" : "plain";
}

void judge(const bench::Ranges& ranges, Run& run) {
  const auto plan = bench::tub_of(ranges, run.asked);
  World world(plan);
  world.run(plan.run_in + kJudged);
  const rehearsal::Statistics& s = world.statistics();
  const double days = seconds_of(kJudged) / 86400.0;
  run.in_band_pct = 100.0 * s.all_true_s.of().value_or(0.0);
  run.in_band_sensed_pct = 100.0 * s.all_sensed_s.of().value_or(0.0);
  run.starts_per_day = (s.work[0].starts + s.work[1].starts) / days;
  run.fan_starts_per_day = s.work[1].starts / days;
  run.water_g_per_day = s.mist_g / days;
  run.broken = world.watch().broken();
}

/// Each run is a world of its own: they share nothing but the counter.
void judge_all(const bench::Ranges& ranges, std::vector<Run>& runs, unsigned jobs) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr failed;
  std::mutex failing;
  const auto work = [&] {
    try {
      for (std::size_t i = next++; i < runs.size(); i = next++) judge(ranges, runs[i]);
    } catch (...) {
      const std::lock_guard lock(failing);
      failed = std::current_exception();
    }
  };
  std::vector<std::thread> threads;
  for (unsigned j = 0; j < std::max(1u, jobs); ++j) threads.emplace_back(work);
  for (std::thread& t : threads) t.join();
  if (failed) std::rethrow_exception(failed);
}

/// The value below which `share` of them lie; the nearest one.
double quantile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1) + 0.5)];
}

void print_row(const std::vector<Run>& runs, bool wide, Load load, Control control) {
  std::vector<const Run*> row;
  for (const Run& r : runs) {
    if (r.asked.wide == wide && r.asked.load == load && r.asked.control == control)
      row.push_back(&r);
  }
  if (row.empty()) return;
  const auto print = [&](const char* name, double Run::*figure, const char* unit, bool high) {
    std::vector<double> values;
    for (const Run* r : row) values.push_back(r->*figure);
    const auto line = [&](const char* stat, double share) {
      fmt::print("{}{}.{}.{}.{} {:.1f} {}\n", wide ? "wide." : "", name, name_of(load),
                 word_of(control), stat, quantile(values, share), unit);
    };
    line("median", 0.5);
    line("p5", 0.05);
    if (high) line("p95", 0.95);
  };
  print("in_band_pct", &Run::in_band_pct, "%", false);
  print("in_band_sensed_pct", &Run::in_band_sensed_pct, "%", false);
  print("starts_per_day", &Run::starts_per_day, "starts", true);
  print("fan_starts_per_day", &Run::fan_starts_per_day, "starts", true);
  print("water_g_per_day", &Run::water_g_per_day, "g", true);
}

double cpu_s() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

/// The least of three: what else runs on the machine only ever adds.
template <class What>
double least_s(What what) {
  double least = 1e9;
  for (int i = 0; i < 3; ++i) {
    const double begun = cpu_s();
    what();
    least = std::min(least, cpu_s() - begun);
  }
  return least;
}

void print_grow(const bench::Ranges& ranges, Control control) {
  auto plan = bench::tub_of(ranges, {Load::flush, control});
  plan.rhythm = {seconds(10)};  // the usual one of a rehearsal
  const Duration grow = hours(24) * kGrowDays;
  std::uint64_t turns = 0;
  const double world_s = least_s([&] {
    World world(plan);
    world.run(grow);
    turns = world.statistics().turns;
  });
  const double model_s = least_s([&] {
    rehearsal::ChamberModel model(plan.model, plan.room_day, plan.start, plan.steps);
    model.advance(grow);
  });
  fmt::print(
      "# {} days of one tub, full flush, {}, physics at {} s, readings each {} s, {} turns;"
      " CPU of one thread, least of three\n",
      kGrowDays, word_of(control), plan.steps.step_s, seconds_of(plan.rhythm[0]), turns);
  fmt::print("rehearsal_s_60d.{} {:.2f} s\n", word_of(control), world_s);
  fmt::print("rehearsal_model_alone_s_60d.{} {:.2f} s\n", word_of(control), model_s);
}

std::vector<Run> runs_of(const Options& options, const bench::Ranges& ranges) {
  std::vector<Run> runs;
  for (const std::string& limits : options.limits) {
    for (const std::string& control : options.controls) {
      for (const std::string& load : options.loads) {
        for (int set = 0; set < options.sets.value_or(ranges.sets); ++set) {
          Run run;
          run.asked = {*rehearsal::load_named(load), control_named(control), options.coarse,
                       limits == "wide", set};
          runs.push_back(run);
        }
      }
    }
  }
  return runs;
}

int measure(const Options& options) {
  const bench::Ranges ranges = bench::read_ranges(options.ranges);
  std::vector<Run> runs = runs_of(options, ranges);
  const double begun = cpu_s();
  judge_all(ranges, runs, options.jobs);
  fmt::print(
      "# {} runs of 26 h, the last 24 judged second by second: {} sets a row, {:.1f} s CPU{}\n",
      runs.size(), options.sets.value_or(ranges.sets), cpu_s() - begun,
      options.coarse ? ", coarse humidity sensor" : "");
  fmt::print(
      "# in_band: 85..90 % RH and CO2 below 1000 ppm at once. starts: mister and fan. wide: with "
      "the"
      " wider limits of ranges.yaml\n");
  std::size_t broken = 0;
  for (const Run& r : runs) {
    broken += r.broken.size();
    const std::string where =
        fmt::format("{}{}.{} set {}", r.asked.wide ? "wide." : "", name_of(r.asked.load),
                    word_of(r.asked.control), r.asked.set);
    if (!r.broken.empty()) fmt::print("# {}: {}\n", where, r.broken.front());
    if (options.each) {
      fmt::print("# {}: in band {:.1f} %, sensed {:.1f} %, {:.0f} starts, {:.1f} g\n", where,
                 r.in_band_pct, r.in_band_sensed_pct, r.starts_per_day, r.water_g_per_day);
    }
  }
  for (bool wide : {false, true}) {
    for (Load load : {Load::empty, Load::pinning, Load::flush}) {
      print_row(runs, wide, load, Control::portions);
      print_row(runs, wide, load, Control::hysteresis);
    }
  }
  fmt::print("invariants_broken {} count\n", broken);
  if (options.grow) {
    for (const std::string& control : options.controls) {
      print_grow(ranges, control_named(control));
    }
  }
  return broken == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app("Time in band of drawn tubs, and the time of a rehearsed grow");
  app.add_option("folder", options.folder, "not used: nothing is written");
  app.add_option("--ranges", options.ranges, "what is drawn")->capture_default_str();
  app.add_option("--jobs", options.jobs, "threads")->check(CLI::Range(1, 64));
  app.add_option("--sets", options.sets, "sets a row")->check(CLI::Range(1, 100000));
  app.add_option("--control", options.controls)->check(CLI::IsMember({"portions", "plain"}));
  app.add_option("--load", options.loads)->check(CLI::IsMember({"empty", "pinning", "flush"}));
  app.add_option("--limits", options.limits, "of ranges.yaml; wide ones print wide.NAME")
      ->check(CLI::IsMember({"limits", "wide"}));
  app.add_flag("--coarse", options.coarse, "a humidity sensor of 1 % steps each 30 s");
  app.add_flag("--each", options.each, "a comment a run");
  app.add_flag("!--no-grow", options.grow, "leave out the rehearsed grow");
  CLI11_PARSE(app, argc, argv);
  try {
    return measure(options);
  } catch (const std::exception& e) {
    fmt::print(stderr, "{}\n", e.what());
    return 1;
  }
}
