#include "settings/room_file.hpp"

#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "settings/csv_line.hpp"
#include "settings/section.hpp"

namespace tubwarden {
namespace {

/// A column of the file, and what it may hold.
struct RoomColumn {
  std::string_view name;
  std::vector<RoomPoint> RoomFile::*points;
  Bounds bounds;
};
constexpr RoomColumn kRoomColumns[] = {
    {"temperature_c", &RoomFile::celsius, {-40, 60}},
    {"humidity_pct", &RoomFile::humidity_pct, {0, 100}},
    {"co2_ppm", &RoomFile::co2_ppm, {0, 50000}},
};

/// Reads line by line.
class RoomReader {
 public:
  RoomReader(const std::string& file, std::vector<Finding>& findings) : findings_(file, findings) {}

  void line(std::string_view text, int number) {
    line_ = number;
    if (columns_.empty()) return head(csv_cells(text));
    if (++out_.lines > kRoomLinesMax) return;
    row(csv_cells(text));
  }

  RoomFile take() {
    if (findings_.errors() > 0) return {};
    if (columns_.empty()) {
      findings_.error({}, "the file is empty; begin with a head line like time,temperature_c");
    } else if (out_.lines > kRoomLinesMax) {
      findings_.error({}, fmt::format("more than {} lines", kRoomLinesMax));
    } else if (out_.lines < 2) {
      findings_.error({}, "a room through time takes two lines or more below the head line");
    }
    return std::move(out_);
  }

  bool gave_up() const { return findings_.errors() >= kRoomFindingsMax; }

 private:
  void wrong(const CsvCell& cell, std::string text) {
    findings_.error({line_, cell.column}, std::move(text));
  }

  void head(const std::vector<CsvCell>& cells) {
    std::vector<std::string> allowed = {"time"};
    for (const RoomColumn& c : kRoomColumns) allowed.emplace_back(c.name);
    bool timed = false, any = false;
    for (const CsvCell& cell : cells) {
      const RoomColumn* found = nullptr;
      for (const RoomColumn& c : kRoomColumns) found = c.name == cell.text ? &c : found;
      const bool time = cell.text == "time";
      for (std::size_t i = 0; i < columns_.size(); ++i) {
        if (cells[i].text == cell.text) {
          wrong(cell, fmt::format("column {} stands here a second time", in_quotes(cell.text)));
        }
      }
      columns_.push_back(found);
      timed = timed || time;
      any = any || found != nullptr;
      if (time || found != nullptr) continue;
      wrong(cell, fmt::format("unknown column {}; {}", in_quotes(cell.text),
                              known_words(cell.text, allowed)));
    }
    if (!timed) wrong(cells.front(), "the head line names no column 'time'");
    if (timed && !any) {
      wrong(cells.front(), fmt::format("the head line names nothing but times; allowed: {}",
                                       fmt::join(allowed, ", ")));
    }
  }

  void row(const std::vector<CsvCell>& cells) {
    if (cells.size() != columns_.size()) {
      return wrong(cells.front(), fmt::format("{} cells here, and {} in the head line",
                                              cells.size(), columns_.size()));
    }
    std::optional<double> at;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      if (columns_[i] == nullptr) at = time(cells[i]);
    }
    if (!at) return;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      if (columns_[i] != nullptr) value(*columns_[i], cells[i], *at);
    }
  }

  std::optional<double> time(const CsvCell& cell) {
    const auto wall = parse_rfc3339(cell.text);
    const auto since = parse_duration(cell.text);
    if (!wall && !since.ok()) {
      wrong(cell, fmt::format("{} is no time; allowed: a duration since the first day's midnight "
                              "(0h, 6h, 1d 12h), or RFC 3339",
                              in_quotes(cell.text)));
      return std::nullopt;
    }
    if (first_ && wall.has_value() != walls_) {
      wrong(cell, "durations and RFC 3339 do not stand in one file");
      return std::nullopt;
    }
    const double told =
        wall ? static_cast<double>(wall->time_since_epoch().count()) / 1000.0 : seconds_of(*since);
    if (!first_) {
      first_ = told;
      walls_ = wall.has_value();
      out_.second_of_day = wall ? second_written(cell.text) : std::fmod(told, 86400.0);
    } else if (told - *first_ <= out_.length_s) {
      wrong(cell, fmt::format("{} is not later than the line before", in_quotes(cell.text)));
      return std::nullopt;
    }
    out_.length_s = told - *first_;
    return out_.length_s;
  }

  /// RFC 3339 as it is written, in its own offset: YYYY-MM-DDTHH:MM:SS.
  static double second_written(const std::string& text) {
    const auto two = [&](std::size_t at) { return (text[at] - '0') * 10 + (text[at + 1] - '0'); };
    return two(11) * 3600.0 + two(14) * 60.0 + two(17);
  }

  void value(const RoomColumn& column, const CsvCell& cell, double at_s) {
    if (cell.text.empty()) return;
    const auto number = plain_number(cell.text);
    if (!number) {
      return wrong(cell,
                   fmt::format("{} is no plain number for {}", in_quotes(cell.text), column.name));
    }
    if (!column.bounds.hold(*number)) {
      return wrong(
          cell, fmt::format("{} is out of range for {}; allowed: {} to {}", cell.text, column.name,
                            trimmed(column.bounds.low), trimmed(column.bounds.high)));
    }
    (out_.*column.points).push_back({at_s, *number});
  }

  FileFindings findings_;
  std::vector<const RoomColumn*> columns_;  ///< null: the time
  RoomFile out_;
  std::optional<double> first_;
  bool walls_ = false;
  int line_ = 0;
};

}  // namespace

RoomFile read_room(const std::string& text, const std::string& file,
                   std::vector<Finding>& findings) {
  RoomReader reader(file, findings);
  int number = 0;
  for (std::size_t at = 0; at < text.size() && !reader.gave_up();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    std::string_view line(text.data() + at, end - at);
    if (line.ends_with('\r')) line.remove_suffix(1);
    ++number;
    if (!line.empty() && line.front() != '#') reader.line(line, number);
    at = end + 1;
  }
  return reader.take();
}

}  // namespace tubwarden
