// The sums of the kitchen as a page and as JSON, and those that read a log.
// Threading: pure functions, but kitchen_log reads a file. Failure: an Error with file and line.
#pragma once

#include <string>

#include "base/result.hpp"
#include "core/kitchen/sum.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

std::string sum_page(const Sum& sum, const Look& look);
std::string sum_json(const Sum& sum);
Result<Sum> kitchen_log(const KitchenLog& wanted);

}  // namespace tubwarden::cli
