// `sheet token`: makes, lists and takes back what opens the sheet.
// Threading: one thread; reads a configuration, writes one small file. Failure: an error with the
// way out.
#pragma once

#include <string>

#include "base/result.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

/// The page to print, or with `json` the same as JSON.
Result<std::string> sheet_token(const SheetToken& wanted, bool json);

}  // namespace tubwarden::cli
