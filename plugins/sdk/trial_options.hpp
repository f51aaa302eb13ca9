// The file that `tubwarden-plugin-host --try` reads, and the wirings it spoils on purpose.
// Threading: pure functions. Failure: a sentence; nothing throws.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "sdk/protocol.hpp"

namespace tubwarden::protocol {

/// {"wiring": {...}, "site": {...}}; the site may be left out.
struct TrialOptions {
  std::string wiring_json = "{}";
  std::string site_json = "{}";
  std::vector<std::string> names;  ///< of the options that the wiring gives
};
Result<TrialOptions> decode_trial_options(std::string_view text);

/// The wiring with one option set to a text, or left out.
std::string with_option(const std::string& wiring_json, const std::string& name,
                        const std::optional<std::string>& value);

/// A value that the row's own type and range do not allow; nothing when any text may be right.
std::vector<std::string> wrong_values(const OptionRow& row);

/// What is allowed instead of a value that the row's type and range do not allow.
std::optional<std::string> wrong_value(const OptionRow& row, const std::string& value);

/// What is wrong with the row itself: its name, type, range, help, or a fallback it does not allow.
std::optional<std::string> wrong_row(const OptionRow& row);

}  // namespace tubwarden::protocol
