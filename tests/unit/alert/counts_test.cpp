// How often a limit alerts by its delays and deadband, held against an independent count in Python
// (alert_counts.py): over seeded air, and over a real office's, where it lies beside the checkout
// or TUBWARDEN_OCCUPANCY names its folder. Data: Candanedo & Feldheim, Energy and Buildings 112
// (2016) 28-39, the UCI occupancy set (CC BY 4.0; not kept here).
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <numeric>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "core/alert/alert.hpp"

namespace tubwarden {
namespace {

struct Setting {
  bool high;
  double limit, deadband;
  int on_s, off_s;
};

struct Sample {
  Instant at;
  double value;
};

int raises(const std::vector<Sample>& samples, const Setting& s) {
  AlertTimer timer;
  int count = 0;
  for (const Sample& sample : samples) {
    const bool holds = beyond(sample.value, s.limit, !s.high, s.deadband, timer.raised());
    const auto change = timer.judge(holds, seconds(s.on_s), seconds(s.off_s), sample.at);
    count += change == AlertTimer::Change::raised ? 1 : 0;
  }
  return count;
}

std::vector<int> counted_elsewhere(const std::string& file, const std::string& column,
                                   const std::vector<Setting>& settings) {
  std::ostringstream command;
  command << "python3 " TUBWARDEN_SOURCE_DIR "/tests/unit/alert/alert_counts.py '" << file << "' "
          << column;
  for (const Setting& s : settings) {
    command << (s.high ? " high," : " low,") << s.limit << ',' << s.deadband << ',' << s.on_s << ','
            << s.off_s;
  }
  FILE* pipe = ::popen(command.str().c_str(), "r");
  std::vector<int> counts;
  for (int count = 0; pipe != nullptr && std::fscanf(pipe, "%d", &count) == 1;) {
    counts.push_back(count);
  }
  if (pipe != nullptr) ::pclose(pipe);
  return counts;
}

std::vector<int> counted_here(const std::vector<Sample>& samples,
                              const std::vector<Setting>& settings) {
  std::vector<int> counts;
  for (const Setting& s : settings) counts.push_back(raises(samples, s));
  return counts;
}

TEST(AlertCounts, OverSeededAirAreThoseOfAnIndependentCount) {
  const std::filesystem::path file = std::filesystem::temp_directory_path() /
                                     ("tubwarden-counts-" + std::to_string(::getpid()) + ".csv");
  int all = 0;
  for (unsigned seed = 1; seed <= 2; ++seed) {
    std::mt19937 random(seed);
    std::normal_distribution<double> noise(0.0, 1.2);
    std::uniform_int_distribution<int> pace(20, 90);
    std::vector<Sample> samples;
    std::ofstream out(file);
    out << "s,rh\n";
    int at = 0;
    for (int i = 0; i < 2000; ++i) {
      at += pace(random);
      // Tenths, as both read them: no rounding decides a count.
      const double raw = 85.0 + 8.0 * std::sin(at / 5400.0) + noise(random);
      const double value = std::round(raw * 10.0) / 10.0;
      samples.push_back({Instant(seconds(at)), value});
      out << at << ',' << value << '\n';
    }
    out.close();
    const std::vector<Setting> settings = {{true, 90.05, 0, 0, 0},   {true, 90.05, 2, 0, 0},
                                           {true, 90.05, 0, 600, 0}, {true, 90.05, 1, 300, 300},
                                           {false, 79.95, 0, 0, 60}, {false, 79.95, 1.5, 600, 60}};
    const std::vector<int> ours = counted_here(samples, settings);
    EXPECT_EQ(ours, counted_elsewhere(file.string(), "rh", settings)) << "seed " << seed;
    all += std::accumulate(ours.begin(), ours.end(), 0);
  }
  std::filesystem::remove(file);
  EXPECT_GT(all, 20) << "or nothing was compared";
}

std::vector<Sample> office(const std::string& path, std::size_t column) {
  std::ifstream in(path);
  std::string line;
  std::getline(in, line);
  std::vector<Sample> samples;
  while (std::getline(in, line)) {
    std::vector<std::string> cells;
    std::istringstream row(line);
    for (std::string cell; std::getline(row, cell, ',');) cells.push_back(cell);
    int year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0;
    if (cells.size() != 8 || std::sscanf(cells[1].c_str(), "\"%d-%d-%d %d:%d:%d", &year, &month,
                                         &day, &hour, &minute, &second) != 6) {
      ADD_FAILURE() << line;
      break;
    }
    const Instant at{hours(24 * day + hour) + minutes(minute) + seconds(second)};
    samples.push_back({at, std::stod(cells[column])});
  }
  return samples;
}

/// Activations of a CO2 limit in this data, counted by the project's reference page of trade values
/// before this program was: limit, deadband, on-delay, off-delay; training file, test file.
struct Known {
  Setting setting;
  int training, test;
};
const Known kKnown[] = {
    {{true, 1000, 0, 0, 0}, 11, 4},  {{true, 1000, 50, 0, 0}, 5, 4},
    {{true, 1000, 100, 0, 0}, 5, 4}, {{true, 1000, 0, 300, 0}, 4, 4},
    {{true, 1000, 0, 0, 300}, 4, 4}, {{true, 1000, 50, 300, 300}, 3, 4},
    {{true, 800, 0, 0, 0}, 17, 4},   {{true, 800, 50, 0, 0}, 6, 3},
};

TEST(AlertCounts, OverARealOfficeAreThoseOfTheReference) {
  const char* given = std::getenv("TUBWARDEN_OCCUPANCY");
  const std::string folder =
      given != nullptr ? given : TUBWARDEN_SOURCE_DIR "/../shared/data/occupancy";
  if (!std::filesystem::exists(folder + "/datatest.txt")) {
    GTEST_SKIP() << "the recorded room is not beside the checkout: " << folder;
  }
  for (const bool training : {true, false}) {
    const std::string path = folder + (training ? "/datatraining.txt" : "/datatest.txt");
    const auto co2 = office(path, 5);
    ASSERT_EQ(co2.size(), training ? 8143U : 2665U) << path;
    std::vector<Setting> settings;
    std::vector<int> known;
    for (const Known& k : kKnown) {
      settings.push_back(k.setting);
      known.push_back(training ? k.training : k.test);
    }
    EXPECT_EQ(counted_here(co2, settings), known);
    EXPECT_EQ(counted_elsewhere(path, "CO2", settings), known);
    const auto humidity = office(path, 3);
    const std::vector<Setting> of_humidity = {{true, 30, 0, 0, 0},       {true, 30, 0.5, 300, 60},
                                              {false, 25, 0, 0, 0},      {false, 25, 0.5, 600, 60},
                                              {false, 20, 0.25, 0, 300}, {true, 26, 0, 300, 0}};
    const std::vector<int> ours = counted_here(humidity, of_humidity);
    EXPECT_EQ(ours, counted_elsewhere(path, "Humidity", of_humidity));
    EXPECT_GT(std::accumulate(ours.begin(), ours.end(), 0), 5);
  }
}

}  // namespace
}  // namespace tubwarden
