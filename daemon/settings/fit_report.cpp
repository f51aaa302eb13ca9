#include <fmt/format.h>

#include <sstream>

#include "settings/fit.hpp"

namespace tubwarden {
namespace {

constexpr std::size_t kColumns = 80;
constexpr std::size_t kIndent = 15;  // behind the longest mark

/// `text` behind its mark, its further lines under it.
std::string wrapped(std::string_view mark, const std::string& text) {
  std::string result = fmt::format("  {:<{}}", mark, kIndent - 2);
  std::size_t column = kIndent;
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    if (column > kIndent && column + 1 + word.size() > kColumns) {
      result += "\n" + std::string(kIndent, ' ');
      column = kIndent;
    }
    if (column > kIndent) {
      result += ' ';
      ++column;
    }
    result += word;
    column += word.size();
  }
  return result + "\n";
}

/// The sum in a line's text is its first phase's.
std::string phases_of(const FitLine& line) {
  if (line.phases.size() < 2) return fmt::format("{}", fmt::join(line.phases, ""));
  return fmt::format("{} (likewise {})", line.phases.front(),
                     fmt::join(line.phases.begin() + 1, line.phases.end(), ", "));
}

}  // namespace

std::string fit_report(const std::vector<FitLine>& lines) {
  std::string report;
  const std::string* tub = nullptr;
  for (const FitLine& line : lines) {
    if (!tub || *tub != line.tub) {
      report += fmt::format("{}fit of {}\n", tub ? "\n" : "", line.tub);
      tub = &line.tub;
    }
    report += wrapped(word_of(line.mark), fmt::format("{}: {}", phases_of(line), line.text));
  }
  return report;
}

}  // namespace tubwarden
