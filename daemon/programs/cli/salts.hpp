// `tubwarden kitchen salts`: a hygrometer checked over two saturated salts, from the method to the
// line of configuration. Needs no daemon.
// Threading: pure functions. Failure: points that make no line are an Error with what is allowed.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "core/air/calibration.hpp"
#include "core/air/salts.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

struct SaltPoint {
  SaltTraits salt;
  double read_pct = 0.0;
  FixedPoint truth;
};

struct SaltLine {
  std::array<SaltPoint, 2> points;  ///< the drier first
  Line line;                        ///< true = read x scale + offset
};

/// "NaCl=76.0" and its like, two of them; `at` within kSaltsFrom..kSaltsTo.
Result<SaltLine> salt_line(const std::vector<std::string>& points, Celsius at);
/// Its key for a sensor in the folder: "calibrate: {humidity: [[34.1, 33.07], [76, 75.47]]}".
std::string calibrate_key(const SaltLine& found);
/// What the daemon's `note` is asked with: one sentence for the record, as JSON text.
std::string salt_note_args(const SaltLine& found, const KitchenSalts& wanted);
/// That the sensor has been checked, for what is due again some day.
std::string salt_done_args(const KitchenSalts& wanted);

/// Without points: what each salt settles at, and the method. With two: the line they make.
std::string salts_page(const KitchenSalts& wanted, const std::optional<SaltLine>& found,
                       const Look& look);
std::string salts_json(const KitchenSalts& wanted, const std::optional<SaltLine>& found);

}  // namespace tubwarden::cli
