// The charts of a batch's report, as SVG that stands in its page: drawn here, so that the page
// needs no script and prints as it is seen. Threading: pure functions. Failure: none; without
// values there is no chart, an empty text.
#pragma once

#include <string>

#include "programs/cli/batch_report.hpp"
#include "programs/cli/when.hpp"

namespace tubwarden::cli {

/// One time axis: the phases of each tub, and a strip a quantity with the band that was to be kept.
std::string climate_chart(const BatchReport& report, Zone zone);

/// A bar a flush, one beside the other, and the running yield above them.
std::string harvest_chart(const BatchReport& report);

}  // namespace tubwarden::cli
