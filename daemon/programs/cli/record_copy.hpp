// `backup`, `restore` and `export`: the record's files, copied by this program itself with the
// rights of who runs it; a daemon that is there is asked only to write down what it still holds.
// Threading: blocks the caller. Failure: an Error with the way out, and no half file.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "programs/cli/history.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct CopyTold {
  std::string json, page;
  std::vector<std::string> notes;  ///< for standard error
};

/// `told`: the share that is done, for a terminal.
Result<CopyTold> copy_record(const RecordCopy& wanted, const AskDaemon& ask,
                             const std::function<void(double)>& told, const Look& look);

}  // namespace tubwarden::cli
