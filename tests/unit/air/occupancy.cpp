#include "unit/air/occupancy.hpp"

#include <cstdio>
#include <cstdlib>
#include <fstream>

namespace tubwarden {

std::vector<OccupancyRow> read_occupancy(const std::string& file) {
  const char* given = std::getenv("TUBWARDEN_OCCUPANCY");
  const std::string folder =
      given != nullptr ? given : TUBWARDEN_SOURCE_DIR "/../shared/data/occupancy";
  std::ifstream lines(folder + "/" + file);
  std::vector<OccupancyRow> rows;
  for (std::string line; std::getline(lines, line);) {
    OccupancyRow row;
    char date[20] = {};
    double light = 0;
    // The header names 7 columns; the data have 8, the row number first.
    const int fields = std::sscanf(line.c_str(), "\"%*d\",\"%19[^\"]\",%lf,%lf,%lf,%lf,%lf,", date,
                                   &row.temperature_c, &row.humidity_pct, &light, &row.co2_ppm,
                                   &row.humidity_ratio);
    if (fields != 6) continue;
    int day = 0, hour = 0, minute = 0, second = 0;
    if (std::sscanf(date, "%*d-%*d-%d %d:%d:%d", &day, &hour, &minute, &second) != 4) continue;
    row.date = date;
    row.seconds = ((day * 24.0 + hour) * 60.0 + minute) * 60.0 + second;
    rows.push_back(row);
  }
  return rows;
}

}  // namespace tubwarden
