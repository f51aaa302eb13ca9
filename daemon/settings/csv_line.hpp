// A line of CSV as its cells. Threading: pure. Failure: none; quotes within a cell are kept as they
// are.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace tubwarden {

struct CsvCell {
  std::string text;  ///< without the spaces and the quotes around it
  int column = 1;    ///< of its first byte
};

/// `line` without its end; a cell with a comma in it is not understood.
std::vector<CsvCell> csv_cells(std::string_view line);

}  // namespace tubwarden
