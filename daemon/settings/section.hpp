// One section of a file, read by its rows of the option table: unknown keys, missing ones and wrong
// values become findings with their place; what is right comes out typed. Threading: pure. Failure:
// findings; a getter of a wrong or missing key answers nothing (or its fallback).
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/time.hpp"
#include "settings/amount.hpp"
#include "settings/option_table.hpp"
#include "settings/yaml_tree.hpp"

namespace tubwarden {

/// The findings of one file.
class FileFindings {
 public:
  FileFindings(std::string file, std::vector<Finding>& all) : file_(std::move(file)), all_(all) {}
  void error(Place at, std::string text);
  void warning(Place at, std::string text);
  std::size_t errors() const { return errors_; }

 private:
  std::string file_;
  std::vector<Finding>& all_;
  std::size_t errors_ = 0;
};

class Section {
 public:
  /// Checks the keys of `node` against the rows of `section`. The node outlives this.
  Section(const YamlNode& node, std::string_view section, FileFindings& findings);

  const YamlNode& node() const { return node_; }
  FileFindings& findings() const { return findings_; }
  bool has(std::string_view key) const { return find(key) != nullptr; }
  /// The value's node, or the section's own where the key is not there: a place for findings.
  const YamlNode& at(std::string_view key) const;
  /// The key's own place, likewise.
  Place key_at(std::string_view key) const;

  // Each is for rows of its type, and answers the row's fallback where the key is not there.
  std::optional<std::string> text(std::string_view key) const;
  std::optional<Duration> duration(std::string_view key) const;
  std::optional<double> number(std::string_view key) const;
  /// In the unit of the row, or of `measure` where a word beside it tells the unit.
  std::optional<double> amount(std::string_view key) const;
  std::optional<double> amount(std::string_view key, Measure measure) const;
  std::optional<double> difference(std::string_view key, Measure measure) const;
  std::optional<std::array<double, 2>> pair(std::string_view key, Measure measure) const;
  /// [[read, true], [read, true]] as read, true, read, true.
  std::optional<std::array<double, 4>> points(std::string_view key) const;
  std::optional<bool> flag(std::string_view key) const;
  std::optional<int> minute_of_day(std::string_view key) const;
  /// Permille; rest | run | N %.
  std::optional<std::uint32_t> level(std::string_view key) const;
  /// The section under the key; its rows are those that the table names.
  std::optional<Section> section(std::string_view key) const;
  /// The items of a list; a value that is no list is an error.
  std::vector<const YamlNode*> list(std::string_view key) const;

 private:
  const YamlNode* find(std::string_view key) const;
  const OptionRow& row(std::string_view key) const;
  /// The scalar's text, or the row's fallback, or nothing.
  std::optional<std::string> scalar(std::string_view key) const;
  bool within(const OptionRow& row, double value, Measure measure, Place at) const;
  std::optional<double> taken(const OptionRow& row, const Result<double>& parsed, Measure measure,
                              Place at) const;

  const YamlNode& node_;
  std::string_view section_;
  FileFindings& findings_;
};

/// "nearest is 'x'; allowed: x, y, z", at most 20 of them.
std::string known_words(std::string_view given, const std::vector<std::string>& known);

/// What is wrong with a value of this type, as a sentence that says what is allowed; nothing when
/// it is right. For id, text, topic, pointer and path.
std::optional<std::string> wrong_text(OptionType type, std::string_view key,
                                      const std::string& value);

/// The whole text as a finite number in plain digits.
std::optional<double> plain_number(std::string_view text);

}  // namespace tubwarden
