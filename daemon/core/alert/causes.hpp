// What every alert's cause means, what to do about it, how long one has, and which cause stands
// behind which others: one table each, closed sets. Threading: constant data. Failure: a cause that
// stands in no row has no words and covers nothing.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "core/alert/alert.hpp"

namespace tubwarden {

/// A row of the causes. `*` in a pattern stands for the name of a sensor, an actuator or a channel.
struct CauseRow {
  std::string_view pattern;
  std::string_view means;  ///< what it is, one sentence
  std::string_view steps;  ///< what to do, in the order of doing it
  std::string_view have;   ///< how long one has
  bool text_says_steps;    ///< the alert's own text says what to do already
};
std::span<const CauseRow> cause_table();
/// The row of a cause, or nothing for one that is not in the table.
const CauseRow* cause_row(std::string_view cause);

/// What stands behind what: while `root` stands, `covered` is not told but shown with its root.
struct CoverRow {
  std::string_view root, covered;
  bool same_place;  ///< only at the root's own place; else everywhere
  bool same_name;   ///< only where `*` is the same name in both
};
std::span<const CoverRow> cover_table();
bool covers(const AlertKey& root, const AlertKey& covered);
/// The rows in which a cause is the root, and those in which it is covered, as bits: what of the
/// two have no row in common need not be compared.
struct CoverRows {
  std::uint32_t as_root = 0, as_covered = 0;
  bool operator==(const CoverRows&) const = default;
};
CoverRows cover_rows(std::string_view cause);
/// Whether some cause could stand behind this one.
bool can_be_covered(std::string_view cause);

/// What `*` stands for when a cause is of that pattern: "air" in "sensor_air_stale".
std::optional<std::string_view> name_in(std::string_view pattern, std::string_view cause);

}  // namespace tubwarden
