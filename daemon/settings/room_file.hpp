// A file of the room through time for a rehearsal, as CSV: a head line with `time` and one or more
// of `temperature_c`, `humidity_pct`, `co2_ppm`, then a line a moment. A time is a duration (0h,
// 6h, 1d 12h) or RFC 3339; an empty cell says nothing. Threading: pure. Failure: findings, each
// with its line.
#pragma once

#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "settings/settings.hpp"

namespace tubwarden {

struct RoomPoint {
  double at_s = 0.0;  ///< since the first line
  double value = 0.0;
};

struct RoomFile {
  std::vector<RoomPoint> celsius, humidity_pct, co2_ppm;  ///< rising in time; empty: not told
  double length_s = 0.0;                                  ///< of the last line
  double second_of_day = 0.0;  ///< of the first line, by its own clock; durations begin at midnight
  std::size_t lines = 0;
};

inline constexpr std::size_t kRoomLinesMax = 200000;
inline constexpr std::size_t kRoomFindingsMax = 20;

/// `file` is its name for findings. What comes back after an error is not used.
RoomFile read_room(const std::string& text, const std::string& file,
                   std::vector<Finding>& findings);

}  // namespace tubwarden
