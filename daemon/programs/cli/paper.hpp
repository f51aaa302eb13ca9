// `labels` and `report`: asked of the daemon, and put on paper here. Threading: blocks the caller.
// Failure: the daemon's own error, or a sheet that does not fit.
#pragma once

#include <string>
#include <vector>

#include "programs/cli/history.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct PaperTold {
  std::string text;                ///< for standard output
  std::vector<std::string> notes;  ///< for standard error
};

Result<PaperTold> print_labels(const PrintLabels& wanted, const AskDaemon& ask, const Look& look);
Result<PaperTold> report_batches(const ReportBatches& wanted, const AskDaemon& ask, bool json,
                                 const Look& look);

}  // namespace tubwarden::cli
