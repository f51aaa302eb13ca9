// The history for a spreadsheet (CSV as RFC 4180 has it) and for a program (JSON).
// Threading: plain values. Failure: more than one JSON answer may hold is refused with the way out.
#pragma once

#include <memory>
#include <string>

#include "programs/cli/history.hpp"

namespace tubwarden::cli {

/// A field as RFC 4180 writes it: in quotation marks where it has to be.
std::string csv_field(const std::string& text);

/// The first line; `by_width`: least, mean and most of each quantity instead of one value.
std::string csv_header(bool by_width);
/// A line for each moment and sensor of the piece, by time.
std::string csv_rows(const Stay& stay, const HistoryPiece& piece, bool by_width);

class HistoryJson {
 public:
  static constexpr std::size_t kValuesMax = 500'000;

  HistoryJson(Stays stays, WallTime from, WallTime to, Duration every);
  ~HistoryJson();
  Outcome take(std::size_t stay, const HistoryPiece& piece);
  std::string told() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden::cli
