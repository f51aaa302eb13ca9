// The UCI Occupancy Detection data (Candanedo and Feldheim, Energy and Buildings 112:28-39, 2016):
// an office by the minute, with CO2 and a humidity ratio beside temperature and RH.
// Threading: reads a file. Failure: no rows when the file is not there.
#pragma once

#include <string>
#include <vector>

namespace tubwarden {

struct OccupancyRow {
  std::string date;      ///< "2015-02-04 17:51:00"
  double seconds = 0.0;  ///< since the start of that month; the data stay within it
  double temperature_c = 0.0, humidity_pct = 0.0, co2_ppm = 0.0, humidity_ratio = 0.0;
};

/// From the folder in TUBWARDEN_OCCUPANCY, else shared/data/occupancy beside the checkout.
std::vector<OccupancyRow> read_occupancy(const std::string& file);

/// What a test says when it is skipped for want of the data.
inline constexpr const char* kNoOccupancy =
    "no occupancy data: set TUBWARDEN_OCCUPANCY to the folder of datatraining.txt and datatest.txt";

}  // namespace tubwarden
