// Words for people: times, durations, and the nearest known word to a mistyped one.
// Threading: pure functions. Failure: parse functions return nothing when the text is not theirs.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "base/time.hpp"

namespace tubwarden {

/// RFC 3339 in UTC with milliseconds: "2026-11-25T10:00:00.000Z".
std::string rfc3339(WallTime t);
/// Parses RFC 3339 with any offset and any number of fraction digits (below a millisecond dropped).
std::optional<WallTime> parse_rfc3339(std::string_view text);

/// A duration in the words of the configuration, two units at most: "90s", "1h 30m", "14d 6h",
/// "500ms".
std::string spoken(Duration d);

/// The known word with the smallest edit distance to `word`, if that is at most a third of its
/// length (at least 1, at most 3); nothing otherwise. Case is ignored.
std::optional<std::string> nearest(std::string_view word, std::span<const std::string_view> known);

/// A number without trailing zeros, at most `digits` behind the point: "87.5", "88", "0.25".
std::string trimmed(double value, int digits = 2);

}  // namespace tubwarden
