#include "programs/cli/fit_source.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <future>
#include <memory>

#include "shell/loop/board_clock.hpp"
#include "shell/record/sqlite_record.hpp"

namespace tubwarden::cli {
namespace {

constexpr milliseconds kRecordPiece = hours(6);
/// A history that is longer by readings than this is no history of one week.
constexpr std::size_t kHeardReadingsMost = 2'000'000;

HistoryPiece piece_of_record(const History& history) {
  HistoryPiece piece;
  for (const HistorySeries& series : history.series) {
    HistoryOf of{series.sensor, series.quantity, {}};
    for (const HistoryPoint& p : series.points) {
      of.values.push_back({p.at, p.low, p.mean, p.high, static_cast<double>(p.count)});
    }
    piece.series.push_back(std::move(of));
  }
  for (const RunRow& run : history.runs) {
    piece.runs.push_back({run.actuator, run.level / 10.0, run.began.wall, run.lasted, false});
  }
  piece.unplaced = static_cast<double>(history.unplaced);
  piece.damaged = static_cast<double>(history.damaged);
  return piece;
}

Outcome read_record(SqliteRecord& record, const std::string& chamber, WallTime from, WallTime to,
                    const std::function<Outcome(const HistoryPiece&)>& take) {
  while (from < to) {
    const WallTime end = std::min(from + kRecordPiece, to);
    std::promise<Result<History>> told;
    record.history({chamber, {}, from, end, milliseconds(0)},
                   [&told](Result<History> history) { told.set_value(std::move(history)); });
    const auto history = told.get_future().get();
    if (!history.ok()) return history.error();
    if (history->cut) {
      return Error{ErrorCode::refused,
                   fmt::format("{} has more than {} readings within 6h; that is more than a fit "
                               "takes",
                               chamber, kHistoryPointsMax)};
    }
    if (const Outcome taken = take(piece_of_record(*history)); !taken.ok()) return taken;
    from = end;
  }
  return Done{};
}

/// The first sensor of each quantity, by the plan.
std::array<std::string, kQuantities> first_sensors(const ChamberPlan& chamber) {
  std::array<std::string, kQuantities> first;
  for (const SensorPlan& sensor : chamber.sensors) {
    for (const QuantitySource& source : sensor.quantities) {
      std::string& id = first[index_of(source.quantity)];
      if (id.empty()) id = sensor.id;
    }
  }
  return first;
}

/// Pieces joined, in wall time; seconds come at the end, when the first reading is known.
class Joined {
 public:
  explicit Joined(const ChamberPlan& chamber) : chamber_(chamber), first_(first_sensors(chamber)) {}

  Outcome take(const HistoryPiece& piece) {
    for (const HistoryOf& of : piece.series) {
      if (of.sensor != first_[index_of(of.quantity)]) continue;
      for (const HistoryValue& v : of.values) {
        // Where readings are kept no longer, five minutes' means tell nothing of a run.
        if (v.count == 1.0) readings_.push_back({v.at, of.quantity, v.mean});
      }
    }
    if (readings_.size() > kHeardReadingsMost) {
      return Error{ErrorCode::refused, fmt::format("{} has more than {} readings in that time; "
                                                   "take a shorter --history",
                                                   chamber_.id, kHeardReadingsMost)};
    }
    for (const HistoryRun& run : piece.runs) {
      const auto a = std::find_if(chamber_.actuators.begin(), chamber_.actuators.end(),
                                  [&](const ActuatorPlan& plan) { return plan.id == run.id; });
      if (a == chamber_.actuators.end() || !told_.first(run.id, run.began)) continue;
      runs_.push_back({static_cast<std::size_t>(a - chamber_.actuators.begin()), run});
    }
    return Done{};
  }

  HeardAir heard(Zone zone) {
    HeardAir air;
    rehearsal::TubHistory& history = air.history;
    if (readings_.empty()) return air;
    std::stable_sort(readings_.begin(), readings_.end(),
                     [](const Reading& a, const Reading& b) { return a.at < b.at; });
    const WallTime begin = air.begin = readings_.front().at;
    const auto since = [&](WallTime at) { return seconds_of(at - begin); };
    history.length_s = since(readings_.back().at);
    const auto local = duration_cast<milliseconds>(begin.time_since_epoch() + zone(begin));
    history.second_of_day = seconds_of(local % milliseconds(days(1)));
    for (const Reading& r : readings_)
      history.readings.push_back({since(r.at), r.quantity, r.value});
    for (const auto& [actuator, run] : runs_) {
      const double from_s = since(run.began), to_s = from_s + seconds_of(run.lasted);
      if (to_s <= 0.0 || from_s > history.length_s) continue;
      history.runs.push_back(
          {actuator, static_cast<Level>(run.level_pct * 10.0 + 0.5), std::max(from_s, 0.0), to_s});
    }
    std::stable_sort(history.runs.begin(), history.runs.end(),
                     [](const auto& a, const auto& b) { return a.from_s < b.from_s; });
    return air;
  }

 private:
  struct Reading {
    WallTime at{};
    Quantity quantity;
    double value;
  };
  const ChamberPlan& chamber_;
  std::array<std::string, kQuantities> first_;
  std::vector<Reading> readings_;
  std::vector<std::pair<std::size_t, HistoryRun>> runs_;
  RunsTold told_;
};

}  // namespace

ReadAir air_by_daemon(AskDaemon ask) {
  return [ask = std::move(ask)](const std::string& chamber, WallTime from, WallTime to,
                                const auto& take) {
    const Zone utc = [](WallTime) { return Duration{0}; };
    return read_stay(ask, {"", chamber, "", from, to}, Duration{0}, utc, take);
  };
}

Result<ReadAir> air_by_record(const std::string& folder) {
  const std::filesystem::path file = std::filesystem::path(folder) / "readings.db";
  std::error_code none;
  if (!std::filesystem::exists(file, none)) {
    return Error{ErrorCode::not_found,
                 fmt::format("there is no record in {}: a fit needs a history", folder)};
  }
  // Who only reads drops nothing, however long the configuration keeps it.
  const RecordKeep all{days(36500), days(36500), days(36500)};
  auto opened = SqliteRecord::open({folder, BoardClock().boot_id(), all},
                                   [](const std::function<void()>& work) { work(); });
  if (!opened.ok()) return opened.error();
  std::shared_ptr<SqliteRecord> record = std::move(opened).value();
  return ReadAir(
      [record](const std::string& chamber, WallTime from, WallTime to, const auto& take) {
        return read_record(*record, chamber, from, to, take);
      });
}

Result<HeardAir> read_history(const ReadAir& read, const ChamberPlan& chamber, WallTime from,
                              WallTime to, Zone zone) {
  Joined joined(chamber);
  const Outcome done =
      read(chamber.id, from, to, [&](const HistoryPiece& piece) { return joined.take(piece); });
  if (!done.ok()) return done.error();
  return joined.heard(zone);
}

}  // namespace tubwarden::cli
