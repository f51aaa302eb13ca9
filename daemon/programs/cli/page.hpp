// A page of plain text for a terminal: its width, its ink, its line breaks.
// Threading: pure functions. Failure: none; text from elsewhere is made harmless by clean().
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/time.hpp"

namespace tubwarden::cli {

/// How the reader reads.
struct Look {
  int width = 80;  ///< columns; kept within 60..160
  bool colour = false;
  bool utf8 = true;  ///< false: ASCII only
  /// How far the reader's clock is east of UTC at a moment.
  Duration (*east_of_utc)(WallTime) = [](WallTime) { return Duration{0}; };
};

enum class Ink { plain, faint, strong, warn, alarm };

std::string inked(std::string_view text, Ink ink, const Look& look);

/// Columns a text takes: code points, without the terminal's colour sequences.
std::size_t columns(std::string_view text);
/// Filled with spaces up to `width` columns; longer text is left as it is.
std::string padded(std::string text, std::size_t width);
std::string right(std::string text, std::size_t width);
/// `text` cut to `width` columns, the last one a '~' where something was cut.
std::string cut(const std::string& text, std::size_t width);

/// `text` with spaces that no line is broken at: a command to be copied.
std::string unbroken(std::string text);
/// Broken at spaces into lines of at most `width` columns; a longer word stands alone.
std::vector<std::string> wrapped(std::string_view text, std::size_t width);
/// `head`, then `text` wrapped beside it, each line after the first indented by head's columns; on
/// a narrow page below it.
std::string beside(const std::string& head, std::string_view text, Ink ink, const Look& look);

/// Without control characters (a terminal obeys those), and ASCII only where the look asks for it.
std::string clean(std::string_view text, const Look& look);

/// "3s", "12m", "2h", "5d": one unit, for a column.
std::string shortly(double seconds);
/// The reader's wall time: "25 Nov 12:31:07"; `text` as it is where it is no RFC 3339.
std::string local_time(const std::string& text, const Look& look, bool with_year = false);

/// The parts of local_time's answer: "12:31:07", and the day before it for a heading.
std::string time_of_day(const std::string& local);
std::string day_of(const std::string& local);

}  // namespace tubwarden::cli
