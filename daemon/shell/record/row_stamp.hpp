// A moment as the record's rows have it: wall_ms, wall_set, boot_id, boot_ns, side by side.
// Threading: one thread a Database. Failure: none.
#pragma once

#include "base/stamp.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

inline Stamp stamp_at(const sql::Statement& s, int column) {
  return {WallTime(milliseconds(s.integer(column))), s.integer(column + 1) != 0, s.text(column + 2),
          Instant(Duration(s.integer(column + 3)))};
}

}  // namespace tubwarden
