// An output's wiring (or the site) as a plugin reads it: one JSON object of named options.
// Threading: plain values. Failure: a missing or wrong option is an error that names it.
#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace tubwarden {

class Wiring {
 public:
  /// Members that are text, numbers, booleans, lists of those, or objects (read as nested wiring).
  static Result<Wiring> parse(std::string_view json);

  bool has(const std::string& name) const;
  std::vector<std::string> names() const;
  /// A scalar as text (a bare number or boolean as JSON writes it); required.
  Result<std::string> text(const std::string& name) const;
  std::string text_or(const std::string& name, const std::string& fallback) const;
  std::optional<std::string> text_if(const std::string& name) const;
  Result<std::vector<std::string>> list(const std::string& name) const;
  /// "500ms", "20s", "1.5 s", "1h 30m", at most a year; the fallback when absent.
  Result<std::chrono::milliseconds> duration_or(const std::string& name,
                                                std::chrono::milliseconds fallback) const;
  /// The same of a text by itself; nothing when it is none.
  static std::optional<std::chrono::milliseconds> duration(std::string_view text);
  /// The nested object, empty when absent.
  Wiring object(const std::string& name) const;

 private:
  std::map<std::string, std::string> texts_;
  std::map<std::string, std::vector<std::string>> lists_;
  std::map<std::string, std::string> objects_;
};

}  // namespace tubwarden
