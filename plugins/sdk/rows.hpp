// A wiring read by the plugin's own option rows: what does not fit its row is refused by its name.
// Threading: plain values. Failure: read() gives an Error; a name without a row is a bug.
#pragma once

#include <chrono>
#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "sdk/plugin.h"

namespace tubwarden {

class Rows {
 public:
  /// Every row is checked: required, type, range. Members of the wiring without a row are refused.
  static Result<Rows> read(const tw_option* rows, std::uint32_t count, std::string_view wiring);

  /// As given, else the fallback; "" for one that may be left out and was.
  const std::string& text(const std::string& name) const;
  std::chrono::milliseconds duration(const std::string& name) const;
  const std::vector<std::string>& list(const std::string& name) const;

 private:
  std::map<std::string, std::vector<std::string>> values_;
};

}  // namespace tubwarden
