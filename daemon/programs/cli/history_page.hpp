// The history as a page: a table of least, mean and most for each stay in an air, and what the
// outputs ran. Threading: one owner. Failure: a table too long for a page is refused with the way
// out.
#pragma once

#include <array>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "programs/cli/history.hpp"
#include "programs/cli/page.hpp"

namespace tubwarden::cli {

/// So long a line of the page stands for, when nobody says: about a day's worth of lines.
Duration usual_every(Duration span);

class HistoryPage {
 public:
  static constexpr std::size_t kRowsMax = 2000;

  HistoryPage(Stays stays, WallTime from, WallTime to, Duration every, Zone zone)
      : stays_(std::move(stays)), from_(from), to_(to), every_(every), zone_(zone) {}

  Outcome take(std::size_t stay, const HistoryPiece& piece);
  std::string told(const Look& look) const;

 private:
  struct Cell {
    double low = 0.0, high = 0.0, sum = 0.0, count = 0.0;
    void add(const HistoryValue& v);
    void add(const Cell& other);
  };
  using Cells = std::array<Cell, kQuantities>;
  struct Ran {
    int starts = 0;
    Duration lasted{0};
    bool now = false;
  };
  using Output = std::pair<std::string, std::string>;  ///< chamber, id

  void add_run(const Stay& stay, const HistoryRun& run);
  std::string heading(const Stay& stay, const Look& look) const;
  std::string table(std::size_t stay, const Look& look) const;
  std::string rows(const std::map<WallTime, Cells>& of, const std::vector<Quantity>& shown,
                   const Look& look) const;
  std::string outputs(const Look& look) const;
  std::string notes(const Look& look) const;
  std::string label(WallTime row, const Look& look) const;
  Duration stood_in(const std::string& chamber) const;

  Stays stays_;
  WallTime from_, to_;
  Duration every_;
  Zone zone_;
  std::map<std::size_t, std::map<WallTime, Cells>> rows_;  ///< by stay, then by the row's beginning
  std::size_t row_count_ = 0;
  std::map<Output, Ran> ran_;
  RunsTold runs_told_;
  std::map<std::string, double> unplaced_, damaged_;  ///< by chamber
};

}  // namespace tubwarden::cli
