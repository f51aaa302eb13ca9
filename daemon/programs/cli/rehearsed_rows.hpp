// What a rehearsal came to as rows of text, for the terminal's page and the report alike.
// Threading: pure functions. Failure: none.
#pragma once

#include <string>
#include <vector>

#include "programs/cli/rehearse.hpp"

namespace tubwarden::cli {

/// Texts with their units; "-" where nothing was counted. `control` is empty where there is one
/// only; of several rows of a quantity the first has its name and band.
struct QuantityRow {
  std::string quantity, band, control, truth, sensed, over, under;
};

/// "water", "energy", "starts", "alerts".
struct FactRow {
  std::string head, control, text;
};

struct PhaseRows {
  std::string title;  ///< "fruiting, day 1 to 39 (38d 12h)"
  std::vector<QuantityRow> quantities;
  std::vector<FactRow> facts;
};

/// "tub-1, its own air, batch B-07, profile button".
std::string tub_title(const Rehearsed& r, std::size_t air, std::size_t tub);
PhaseRows phase_rows(const Rehearsed& r, std::size_t air, std::size_t tub, std::size_t phase);

/// "day 11 06:00".
std::string day_and_time(Duration at);

}  // namespace tubwarden::cli
