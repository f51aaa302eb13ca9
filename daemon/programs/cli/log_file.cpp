#include "programs/cli/log_file.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstring>
#include <fstream>
#include <iostream>
#include <iterator>
#include <optional>
#include <sstream>

#include "base/text.hpp"
#include "settings/amount.hpp"
#include "settings/csv_line.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kLogBytesMost = 64U << 20;

/// Where the columns stand, and where in the file one is.
class LogReader {
 public:
  LogReader(std::string name, std::string column, std::string sensor)
      : name_(std::move(name)), column_(std::move(column)), sensor_(std::move(sensor)) {}

  std::optional<Error> line(std::string_view text) {
    ++number_;
    const std::vector<CsvCell> cells = csv_cells(text);
    if (width_ == 0) return head(cells);
    if (points_.size() == kLogLinesMost) return at(1, "too many lines; allowed: a million");
    if (cells.size() != width_) {
      return at(1, fmt::format("{} cells here, and {} in the head line", cells.size(), width_));
    }
    return row(cells);
  }
  void skip() { ++number_; }
  std::vector<LogPoint> take() { return std::move(points_); }

 private:
  Error at(int column, const std::string& text) const {
    return {ErrorCode::bad_input, fmt::format("{}:{}:{}: {}", name_, number_, column, text)};
  }

  std::optional<Error> head(const std::vector<CsvCell>& cells) {
    std::string there;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      if (cells[i].text == "time") time_at_ = i;
      if (cells[i].text == column_) value_at_ = i;
      if (cells[i].text == "sensor") sensor_at_ = i;
      there += (there.empty() ? "" : ", ") + cells[i].text;
    }
    width_ = cells.size();
    for (const auto& [found, wanted] :
         {std::pair(time_at_, std::string("time")), std::pair(value_at_, column_)}) {
      if (found) continue;
      return at(1, fmt::format("the head line names no column '{}'; there are: {}", wanted, there));
    }
    return std::nullopt;
  }

  std::optional<Error> row(const std::vector<CsvCell>& cells) {
    const CsvCell& value = cells[*value_at_];
    if (value.text.empty()) return std::nullopt;
    if (sensor_at_) {
      const std::string& of = cells[*sensor_at_].text;
      if (!sensor_.empty() && of != sensor_) return std::nullopt;
      if (seen_ && *seen_ != of) {
        return at(cells[*sensor_at_].column,
                  fmt::format("readings of '{}' and of '{}'; say one with --sensor", *seen_, of));
      }
      seen_ = of;
    }
    const auto when = time(cells[*time_at_]);
    if (!when.ok()) return when.error();
    double number = 0.0;
    const char* end = value.text.data() + value.text.size();
    const auto [stop, code] = std::from_chars(value.text.data(), end, number);
    if (code != std::errc() || stop != end || !std::isfinite(number)) {
      return at(value.column, fmt::format("'{}' is no plain number for {}", value.text, column_));
    }
    if (!points_.empty() && *when <= points_.back().at) {
      return at(cells[*time_at_].column, "it is not later than the line before");
    }
    points_.push_back({*when, number});
    return std::nullopt;
  }

  Result<Duration> time(const CsvCell& cell) {
    const auto wall = parse_rfc3339(cell.text);
    const auto since = parse_duration(cell.text);
    if (!wall && !since.ok()) {
      return at(cell.column, fmt::format("'{}' is no time; allowed: RFC 3339, or a duration like "
                                         "90s or 5m from the first line",
                                         cell.text));
    }
    if (!points_.empty() && wall.has_value() != walls_) {
      return at(cell.column, "durations and RFC 3339 do not stand in one file");
    }
    walls_ = wall.has_value();
    return wall ? Duration(wall->time_since_epoch()) : *since;
  }

  std::string name_, column_, sensor_;
  std::optional<std::size_t> time_at_, value_at_, sensor_at_;
  std::optional<std::string> seen_;
  std::size_t width_ = 0;
  std::vector<LogPoint> points_;
  bool walls_ = false;
  int number_ = 0;
};

}  // namespace

Result<std::vector<LogPoint>> read_log(const std::string& text, const std::string& name,
                                       const std::string& column, const std::string& sensor) {
  LogReader reader(name, column, sensor);
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) {
    if (line.ends_with('\r')) line.pop_back();
    if (line.empty() || line.starts_with('#')) {
      reader.skip();
      continue;
    }
    if (const auto wrong = reader.line(line)) return *wrong;
  }
  std::vector<LogPoint> points = reader.take();
  if (points.empty()) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{}: no reading of {}{}", name, column,
                             sensor.empty() ? "" : " by sensor '" + sensor + "'")};
  }
  return points;
}

Result<std::string> text_of(const std::string& path) {
  std::ifstream file;
  if (path != "-") {
    file.open(path, std::ios::binary);
    if (!file) {
      return Error{ErrorCode::not_found, fmt::format("{}: {}", path, std::strerror(errno))};
    }
  }
  std::istream& in = path == "-" ? std::cin : file;
  std::string text;
  char piece[16384];
  while (in.read(piece, sizeof piece) || in.gcount() > 0) {
    text.append(piece, static_cast<std::size_t>(in.gcount()));
    if (text.size() > kLogBytesMost) {
      return Error{ErrorCode::bad_input, path + ": more than 64 MiB; allowed: less"};
    }
  }
  return text;
}

}  // namespace tubwarden::cli
