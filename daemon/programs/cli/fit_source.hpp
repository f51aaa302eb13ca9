// Where a fit has an air's history from: the daemon, or where none runs the record's own file.
// Threading: blocks the caller. Failure: the daemon's or the record's own error.
#pragma once

#include <functional>
#include <string>

#include "core/chamber/chamber_plan.hpp"
#include "programs/cli/history.hpp"
#include "rehearsal/tub_fit.hpp"

namespace tubwarden::cli {

/// Each reading and run of an air between two moments, in order, piece by piece.
using ReadAir = std::function<Outcome(const std::string& chamber, WallTime from, WallTime to,
                                      const std::function<Outcome(const HistoryPiece&)>& take)>;

ReadAir air_by_daemon(AskDaemon ask);
/// Opens the record of a folder that is there; refused while a daemon holds it.
Result<ReadAir> air_by_record(const std::string& folder);

struct HeardAir {
  WallTime begin{};
  rehearsal::TubHistory history;
};

/// What a fit needs of it: the first sensor of each quantity, and the runs. It begins at the first
/// reading and ends with the last.
Result<HeardAir> read_history(const ReadAir& read, const ChamberPlan& chamber, WallTime from,
                              WallTime to, Zone zone);

}  // namespace tubwarden::cli
