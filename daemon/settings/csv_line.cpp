#include "settings/csv_line.hpp"

#include <algorithm>

namespace tubwarden {

std::vector<CsvCell> csv_cells(std::string_view line) {
  std::vector<CsvCell> cells;
  std::size_t at = 0;
  while (true) {
    const std::size_t comma = std::min(line.find(',', at), line.size());
    std::string_view cell = line.substr(at, comma - at);
    std::size_t from = at;
    while (!cell.empty() && cell.front() == ' ') {
      cell.remove_prefix(1);
      ++from;
    }
    while (!cell.empty() && cell.back() == ' ') cell.remove_suffix(1);
    if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"') {
      cell = cell.substr(1, cell.size() - 2);
    }
    cells.push_back({std::string(cell), static_cast<int>(from) + 1});
    if (comma == line.size()) return cells;
    at = comma + 1;
  }
}

}  // namespace tubwarden
