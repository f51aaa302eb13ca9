// What the record keeps of alerts beside their raise and return: acts, the desk, messages.
// Threading: plain values. Failure: none.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "base/stamp.hpp"
#include "base/time.hpp"

namespace tubwarden {

/// What a hand did with an alert.
enum class AlertVerb { seen, quiet, off, back };
std::string_view name_of(AlertVerb verb);
struct AlertActed {
  std::string place, cause;
  AlertVerb verb = AlertVerb::seen;
  std::optional<WallTime> until;  ///< of quiet; nothing also while the clock is unset
  std::string note;               ///< why it is off
  std::string text;               ///< the sentence of the time line
};
/// Bookkeeping, not an act: how an alert stands on the desk, in words of the warden's own.
struct AlertKept {
  std::string place, cause;
  std::string words;  ///< empty: it stands there no longer
  Stamp at;
};
/// A message to one channel, in the transaction of what it tells; it waits until it is delivered.
struct NoticeWritten {
  std::string key, channel, rank, state, title, text;
  Stamp at;
};
/// What became of it. `failing` leaves it waiting.
struct NoticeDone {
  std::string key, channel;
  bool delivered = true;
  std::string why;
};

/// Something that happened to an alert.
struct AlertRow {
  Stamp stamp;
  std::string who, place, cause;
  std::string what;  ///< "raised", "returned", or the verb
  std::string text;
};
/// How often an alert was raised.
struct AlertCount {
  std::string place, cause;
  std::uint64_t raised = 0;
  Stamp last;
};
inline constexpr std::size_t kAlertRowsMax = 1000;

}  // namespace tubwarden
