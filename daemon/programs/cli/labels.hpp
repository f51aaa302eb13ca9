// A sheet of labels for jars and tubs as SVG in millimetres: the id large and as a QR code, below
// it batch, day and what else is to be read. Threading: pure functions. Failure: an Error that says
// which columns and rows fit.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::cli {

struct Label {
  std::string id;                  ///< large, and in the QR code
  std::string batch;               ///< empty: none
  std::string day;                 ///< "2026-11-26"; empty: none
  std::vector<std::string> lines;  ///< small: grain, culture
};

struct LabelSheet {
  double width_mm = 210.0, height_mm = 297.0;  ///< ISO 216 A4
  int columns = 3, rows = 8;
  std::size_t a_page() const {
    return static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows);
  }
  std::size_t pages(std::size_t labels) const { return (labels + a_page() - 1) / a_page(); }
};

/// ANSI/ASME Y14.1: letter is 8.5 by 11 inches.
inline constexpr double kLetterWidthMm = 215.9, kLetterHeightMm = 279.4;

/// Page `page` (from 1 on) of the labels, in their order, row by row. A module of a QR code is at
/// least 0.4 mm wide, with a quiet zone of four modules; a sheet too fine for that is refused.
Result<std::string> label_page(const std::vector<Label>& labels, const LabelSheet& sheet,
                               std::size_t page);

}  // namespace tubwarden::cli
