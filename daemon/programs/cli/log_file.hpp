// A probe's log as CSV, for the sums that need one: a head line with `time` and the wanted column,
// then a line a reading. A time is RFC 3339, or a duration from any origin (0s, 90s, 5m). Other
// columns are passed over, so that what `history --csv` prints can be read.
// Threading: pure functions. Failure: an Error that names file, line, column and what is allowed.
#pragma once

#include <string>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden::cli {

struct LogPoint {
  Duration at{0};
  double value = 0.0;
};

inline constexpr std::size_t kLogLinesMost = 1'000'000;

/// `name` is the file's, for errors. Lines of another `sensor` are passed over, where there is a
/// column of that name; empty: there must be only one.
Result<std::vector<LogPoint>> read_log(const std::string& text, const std::string& name,
                                       const std::string& column, const std::string& sensor);
/// The whole of a file, or of standard input for "-".
Result<std::string> text_of(const std::string& path);

}  // namespace tubwarden::cli
