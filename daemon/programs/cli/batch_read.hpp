// A batch's report, asked together of the daemon: what it kept, what was entered, and what its airs
// did meanwhile. Threading: blocks the caller. Failure: the daemon's own error.
#pragma once

#include <string>

#include "core/climate/phase_plan.hpp"
#include "programs/cli/batch_report.hpp"
#include "programs/cli/history.hpp"

namespace tubwarden::cli {

/// `charts` without: no history is asked for, which is the longest of it.
Result<BatchReport> read_batch(const AskDaemon& ask, const std::string& batch, WallTime now,
                               Zone zone, bool charts);

/// What a forecast would have said, by what was known then, of each jar that was seen grown through
/// and of each flush that was picked. `profile` may be null.
void add_forecasts(BatchReport& report, const Profile* profile);

}  // namespace tubwarden::cli
