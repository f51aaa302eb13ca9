// A rehearsal as one page for a browser: tables, and charts drawn like a paper recorder's. All that
// the page needs is in it. Threading: reads and writes files. Failure: an Error that says which
// file, and what would help.
#pragma once

#include <filesystem>
#include <string>

#include "programs/cli/rehearse.hpp"

namespace tubwarden::cli {

/// Columns of a chart: about a pixel each on a wide screen.
inline constexpr std::size_t kReportColumns = 1000;

/// The chart library's modules, one after another, as they stand in `folder`.
Result<std::string> chart_library(const std::filesystem::path& folder);

/// `library` is put in as it is.
std::string report_page(const Rehearsed& r, const std::string& library);
/// What the charts are drawn of, as JSON that may stand within a page.
std::string report_data(const Rehearsed& r);

/// Under its name only once it is whole.
Outcome write_report(const std::filesystem::path& file, const std::string& page);

}  // namespace tubwarden::cli
