// A batch's report as one HTML page that needs nothing from elsewhere: no script, no style, no
// picture but those in it. Threading: pure functions, but photo_data reads a file. Failure: none; a
// photo that cannot be read stands there by its path.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "programs/cli/batch_report.hpp"
#include "programs/cli/page.hpp"

namespace tubwarden::cli {

/// A photo as a data: URI; nothing where it cannot stand in the page.
using PhotoData = std::function<std::optional<std::string>(const std::string& path)>;

inline constexpr std::size_t kPhotoBytesMax = 4 * 1024 * 1024;
/// Reads JPEG, PNG and WebP, by their first bytes, up to kPhotoBytesMax each.
std::optional<std::string> photo_data(const std::string& path);

/// One batch from jar to last flush.
std::string batch_page(const BatchReport& report, const PhotoData& photo, const Look& look);
/// Several side by side: a column a batch.
std::string batches_page(const std::vector<BatchReport>& reports, const Look& look);

/// The same for a program. CSV (RFC 4180): a figure a line, with its unit.
std::string batches_csv(const std::vector<BatchReport>& reports);
std::string batches_json(const std::vector<BatchReport>& reports);

/// A figure of a batch as a whole, with its unit: what stands side by side.
struct BatchFigure {
  std::string name, unit;
  std::optional<double> value;
  int digits = 0;
};
std::vector<BatchFigure> batch_figures(const BatchReport& report);
/// "1,234 g" is told as "1234 g"; "not known" without a value.
std::string figure_told(const BatchFigure& figure);

}  // namespace tubwarden::cli
