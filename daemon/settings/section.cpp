#include "settings/section.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "core/sensing/decode.hpp"

namespace tubwarden {
namespace {

constexpr std::size_t kIdMax = 40;
constexpr std::size_t kTopicMax = 200;

std::vector<std::string> split_words(std::string_view words) {
  std::vector<std::string> all;
  while (!words.empty()) {
    const std::size_t bar = words.find('|');
    all.emplace_back(words.substr(0, bar));
    words = bar == std::string_view::npos ? "" : words.substr(bar + 1);
  }
  return all;
}

std::optional<std::string> wrong_id(const std::string& id) {
  const bool fine =
      !id.empty() && id.size() <= kIdMax && std::all_of(id.begin(), id.end(), [](unsigned char c) {
        return std::isalnum(c) != 0 || c == '-' || c == '_';
      });
  if (fine) return std::nullopt;
  return fmt::format("'{}' is no name; allowed are letters, digits, - and _, at most {}", id,
                     kIdMax);
}

std::optional<std::string> wrong_topic(const std::string& topic) {
  const bool fine = !topic.empty() && topic.size() <= kTopicMax &&
                    topic.find_first_of("#+") == std::string::npos && topic.front() != '$';
  if (fine) return std::nullopt;
  return fmt::format(
      "'{}' is no topic to name; allowed is a path like cellar/tub-1/air, without # and +", topic);
}

std::optional<double> plain_number(std::string_view text) {
  double value = 0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (code != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

/// A bound of a range row: a number, or a duration in seconds.
double bound(std::string_view text) {
  if (const auto n = plain_number(text)) return *n;
  const auto d = parse_duration(text);
  ENSURE(d.ok());
  return seconds_of(*d);
}

}  // namespace

void FileFindings::add(Severity severity, const YamlNode& at, std::string text) {
  if (severity == Severity::error) ++errors_;
  all_.push_back({severity, file_, at.line, at.column, std::move(text)});
}

std::string known_words(std::string_view given, const std::vector<std::string>& known) {
  const std::vector<std::string_view> words(known.begin(), known.end());
  const auto near = nearest(given, words);
  return (near ? fmt::format("nearest is '{}'; ", *near) : "") +
         fmt::format("allowed: {}", fmt::join(known, ", "));
}

Section::Section(const YamlNode& node, std::string_view section, FileFindings& findings)
    : node_(node), section_(section), findings_(findings) {
  const auto rows = rows_of(section);
  ENSURE(!rows.empty());
  if (node.kind != YamlNode::Kind::map) {
    std::vector<std::string> keys;
    for (const OptionRow* row : rows) keys.emplace_back(row->key);
    findings.error(
        node, fmt::format("a section with keys belongs here; allowed: {}", fmt::join(keys, ", ")));
    return;
  }
  for (const auto& [key, value] : node.members) {
    if (row_of(section, key.text)) continue;
    std::vector<std::string> keys;
    for (const OptionRow* row : rows) keys.emplace_back(row->key);
    findings.error(key, fmt::format("unknown key '{}'; {}", key.text, known_words(key.text, keys)));
  }
  for (const OptionRow* row : rows) {
    if (row->required && !find(row->key)) {
      findings.error(node, fmt::format("'{}' is missing here: {} ({})", row->key, row->help,
                                       name_of(row->type)));
    }
  }
}

const YamlNode* Section::find(std::string_view key) const {
  for (const auto& [name, value] : node_.members) {
    if (name.text == key) return &value;
  }
  return nullptr;
}

const OptionRow& Section::row(std::string_view key) const {
  const OptionRow* found = row_of(section_, key);
  ENSURE(found != nullptr);
  return *found;
}

const YamlNode& Section::at(std::string_view key) const {
  const YamlNode* value = find(key);
  return value ? *value : node_;
}

const YamlNode& Section::key_at(std::string_view key) const {
  for (const auto& [name, value] : node_.members) {
    if (name.text == key) return name;
  }
  return node_;
}

std::optional<std::string> Section::scalar(std::string_view key) const {
  const OptionRow& r = row(key);
  const YamlNode* value = find(key);
  if (!value) return r.fallback.empty() ? std::nullopt : std::optional(std::string(r.fallback));
  if (value->kind != YamlNode::Kind::scalar) {
    findings_.error(*value, fmt::format("'{}' takes a {}", key, name_of(r.type)));
    return std::nullopt;
  }
  return value->text;
}

bool Section::within(const OptionRow& r, double value, const YamlNode& where) const {
  const std::size_t dots = r.allowed.find("..");
  if (dots == std::string_view::npos) return true;
  const double low = bound(r.allowed.substr(0, dots));
  const double high = bound(r.allowed.substr(dots + 2));
  if (value >= low && value <= high) return true;
  findings_.error(where, fmt::format("'{}' is out of range; allowed: {} to {}", r.key,
                                     r.allowed.substr(0, dots), r.allowed.substr(dots + 2)));
  return false;
}

std::optional<std::string> Section::text(std::string_view key) const {
  auto given = scalar(key);
  if (!given) return std::nullopt;
  const OptionRow& r = row(key);
  std::optional<std::string> wrong;
  if (r.type == OptionType::id) wrong = wrong_id(*given);
  if (r.type == OptionType::topic) wrong = wrong_topic(*given);
  if (r.type == OptionType::pointer && !valid_pointer(*given)) {
    wrong = fmt::format("'{}' is no JSON pointer; allowed: empty, or /member/member (RFC 6901)",
                        *given);
  }
  if (r.type == OptionType::word) {
    const auto words = split_words(r.allowed);
    if (std::find(words.begin(), words.end(), *given) == words.end()) {
      wrong =
          fmt::format("'{}' is not allowed for '{}'; {}", *given, key, known_words(*given, words));
    }
  }
  if ((r.type == OptionType::path || r.type == OptionType::text) && given->empty()) {
    wrong = fmt::format("'{}' is empty; it takes a {}", key, name_of(r.type));
  }
  if (!wrong) return given;
  findings_.error(at(key), *wrong);
  return std::nullopt;
}

std::optional<Duration> Section::duration(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  const auto parsed = parse_duration(*given);
  if (!parsed.ok()) {
    findings_.error(at(key), parsed.error().text);
    return std::nullopt;
  }
  if (!within(row(key), seconds_of(*parsed), at(key))) return std::nullopt;
  return *parsed;
}

std::optional<double> Section::number(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  const auto value = plain_number(*given);
  const bool whole = row(key).type == OptionType::integer;
  if (!value || (whole && *value != std::floor(*value))) {
    findings_.error(at(key), fmt::format("'{}' is not allowed for '{}'; write a {}", *given, key,
                                         name_of(row(key).type)));
    return std::nullopt;
  }
  if (!within(row(key), *value, at(key))) return std::nullopt;
  return value;
}

std::optional<double> Section::amount(std::string_view key, Measure measure) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  const auto parsed = parse_amount(*given, measure);
  if (!parsed.ok()) {
    findings_.error(at(key), parsed.error().text);
    return std::nullopt;
  }
  if (!within(row(key), *parsed, at(key))) return std::nullopt;
  return *parsed;
}

std::optional<std::array<double, 2>> Section::pair(std::string_view key, Measure measure) const {
  const YamlNode* value = find(key);
  if (!value) return std::nullopt;
  if (value->kind != YamlNode::Kind::list || value->items.size() != 2) {
    findings_.error(*value, fmt::format("'{}' takes two amounts: [low, high]", key));
    return std::nullopt;
  }
  std::array<double, 2> both{};
  for (std::size_t i = 0; i < 2; ++i) {
    const auto parsed = parse_amount(value->items[i].text, measure);
    if (!parsed.ok()) {
      findings_.error(value->items[i], parsed.error().text);
      return std::nullopt;
    }
    both[i] = *parsed;
  }
  if (both[0] >= both[1]) {
    findings_.error(*value, fmt::format("'{}' must rise: [low, high], low below high", key));
    return std::nullopt;
  }
  return both;
}

std::optional<bool> Section::flag(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  if (*given == "true" || *given == "false") return *given == "true";
  findings_.error(at(key),
                  fmt::format("'{}' is not allowed for '{}'; write true or false", *given, key));
  return std::nullopt;
}

std::optional<int> Section::minute_of_day(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  const std::size_t colon = given->find(':');
  if (colon != std::string::npos) {
    const auto hour = plain_number(std::string_view(*given).substr(0, colon));
    const auto minute = plain_number(std::string_view(*given).substr(colon + 1));
    if (hour && minute && *hour >= 0 && *hour < 24 && *minute >= 0 && *minute < 60 &&
        *hour == std::floor(*hour) && *minute == std::floor(*minute)) {
      return static_cast<int>(*hour * 60 + *minute);
    }
  }
  findings_.error(at(key),
                  fmt::format("'{}' is no time of day; write HH:MM, 00:00 to 23:59", *given));
  return std::nullopt;
}

std::optional<std::uint32_t> Section::level(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  if (*given == "rest") return 0;
  if (*given == "run") return 1000;
  const auto percent = parse_amount(*given, Measure::humidity);
  if (percent.ok() && *percent >= 0 && *percent <= 100) {
    return static_cast<std::uint32_t>(std::lround(*percent * 10));
  }
  findings_.error(
      at(key),
      fmt::format("'{}' is not allowed for '{}'; write rest, run or N % (0 to 100)", *given, key));
  return std::nullopt;
}

std::optional<Section> Section::section(std::string_view key, std::string_view name) const {
  const YamlNode* value = find(key);
  if (!value) return std::nullopt;
  return Section(*value, name, findings_);
}

std::vector<const YamlNode*> Section::list(std::string_view key) const {
  std::vector<const YamlNode*> items;
  const YamlNode* value = find(key);
  if (!value || value->kind == YamlNode::Kind::empty) return items;
  if (value->kind != YamlNode::Kind::list) {
    findings_.error(*value, fmt::format("'{}' takes a list", key));
    return items;
  }
  for (const YamlNode& item : value->items) items.push_back(&item);
  return items;
}

}  // namespace tubwarden
