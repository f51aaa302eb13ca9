// The seeded campaign as a figure: tub-days without a broken invariant, and what they took.
#include "simulated/campaign.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <ctime>

namespace {

constexpr std::uint64_t kUsual = 2'000;
constexpr std::uint64_t kLong = 100'000;
constexpr std::uint64_t kChunk = 500;  // worlds between two words of progress

double cpu_s() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

}  // namespace

int main(int argc, char** argv) {
  using namespace tubwarden::rehearsal;
  std::string folder;
  std::uint64_t days = kUsual, first = 1;
  unsigned jobs = 1;
  bool is_long = false;
  CLI::App app("Tub-days of drawn worlds, faults and hands in which no invariant broke");
  app.add_option("folder", folder, "not used: nothing is written");
  app.add_option("--days", days, "tub-days")->capture_default_str();
  app.add_flag("--long", is_long, fmt::format("{} tub-days", kLong));
  app.add_option("--first", first, "seed of the first world")->capture_default_str();
  app.add_option("--jobs", jobs, "threads")->check(CLI::Range(1, 64));
  CLI11_PARSE(app, argc, argv);
  if (is_long) days = kLong;

  CampaignTally all;
  const double begun = cpu_s();
  for (std::uint64_t done = 0; done < days && all.broken_total == 0; done += kChunk) {
    all.add(run_campaign(first + done, std::min(kChunk, days - done), jobs));
    if (is_long)
      fmt::print(stderr, "# {} of {}, {:.0f} s CPU\n", all.worlds, days, cpu_s() - begun);
  }
  for (const std::string& text : all.broken) fmt::print(stderr, "{}\n", text);
  const double cpu = cpu_s() - begun;
  const auto per_day = [&](std::uint64_t n) {
    return static_cast<double>(n) / static_cast<double>(std::max<std::uint64_t>(all.worlds, 1));
  };
  fmt::print(
      "# a world a tub-day, seeds {}..{}; a day: {:.1f} faults, {:.1f} hands, {:.0f} starts,"
      " {:.0f} turns, {:.0f} looks, {:.1f} alerts\n",
      first, first + all.worlds - 1, per_day(all.faults), per_day(all.hands), per_day(all.starts),
      per_day(all.turns), per_day(all.looks), per_day(all.alerts));
  fmt::print("campaign_tub_days {} days\n", all.worlds);
  fmt::print("campaign_broken {} count\n", all.broken_total);
  fmt::print("campaign_cpu_ms_per_tub_day {:.1f} ms\n",
             1000.0 * cpu / static_cast<double>(std::max<std::uint64_t>(all.worlds, 1)));
  return all.broken_total == 0 ? 0 : 1;
}
