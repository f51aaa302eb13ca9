// The daemon's answers as a grower reads them at 80 columns: JSON text in, text out.
// Threading: pure. Failure: a member that is not there is left out, never invented.
#pragma once

#include <string>

namespace tubwarden::cli {

struct Look {
  bool colour = false;
  int columns = 80;
};

std::string render_status(const std::string& json, const Look& look);
std::string render_why(const std::string& json, const Look& look);
std::string render_alerts(const std::string& json, const Look& look);
std::string render_outputs(const std::string& json, const Look& look);
/// A batch's time line, or the list of batches.
std::string render_rows(const std::string& json, const Look& look);
/// The "text" member: what a command has done.
std::string render_text(const std::string& json);
/// The raw result, indented, for --json.
std::string pretty(const std::string& json);

/// Where a value stands in its band, as a ruled line: the band's edges at [ and ], the value at o,
/// beyond the line at < or >. Sixteen columns and the two edges.
std::string ruled(double value, double low, double high);
/// Words broken at blanks so that no line is longer than `columns`; further lines begin with
/// `indent`.
std::string wrapped(const std::string& text, int columns, const std::string& indent);

}  // namespace tubwarden::cli
