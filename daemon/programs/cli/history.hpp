// The history of a tub, a batch or a chamber, asked of the daemon piece by piece: each stay in an
// air joined with what that air did meanwhile.
// Threading: blocks the caller. Failure: the daemon's own error, or that its answer is of another
// version.
#pragma once

#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "base/result.hpp"
#include "base/time.hpp"
#include "programs/cli/when.hpp"

namespace tubwarden::cli {

/// A question to the daemon, and its answer as JSON text.
using AskDaemon =
    std::function<Result<std::string>(const std::string& what, const std::string& args_json)>;

/// Where something stood, within the time that is asked about.
struct Stay {
  std::string tub, chamber, batch;
  WallTime from{}, to{};
};
struct Stays {
  std::string of;
  std::string kind;  ///< "tub", "batch" or "chamber"
  std::vector<Stay> stays;
  double untimed = 0;  ///< stays whose time is not known: left out
};

struct HistoryValue {
  WallTime at{};
  double low = 0.0, mean = 0.0, high = 0.0;
  double count = 1.0;
};
struct HistoryOf {
  std::string sensor;
  Quantity quantity = Quantity::humidity;
  std::vector<HistoryValue> values;
};
struct HistoryRun {
  std::string id;
  double level_pct = 0.0;
  WallTime began{};
  Duration lasted{0};
  bool now = false;  ///< it goes on
};
struct HistoryPiece {
  std::vector<HistoryOf> series;
  std::vector<HistoryRun> runs;  ///< one that reaches into two pieces is in both
  double unplaced = 0;           ///< readings of this air whose time was never found
  double damaged = 0;            ///< parts of the record that cannot be read
};

/// Runs told so far, so that each counts once: one that goes on is told anew with each piece, its
/// beginning a little off.
class RunsTold {
 public:
  /// Whether this is the first time that it is told.
  bool first(const std::string& output, WallTime began);

 private:
  static constexpr milliseconds kSame{100};
  std::map<std::string, std::set<WallTime>> told_;
};

/// What it stood in between two moments, oldest first.
Result<Stays> ask_stays(const AskDaemon& ask, const std::string& of, WallTime from, WallTime to);

/// One stay from its beginning to its end: each reading (`every` zero), or a value for each such
/// time, which begin at whole times of the reader's clock. The pieces come in order.
Outcome read_stay(const AskDaemon& ask, const Stay& stay, Duration every, Zone zone,
                  const std::function<Outcome(const HistoryPiece&)>& take);

/// The whole `every` of the reader's clock that a moment lies in: 14:00 of 14:37, for 1h.
WallTime floor_to(WallTime at, Duration every, Zone zone);

}  // namespace tubwarden::cli
