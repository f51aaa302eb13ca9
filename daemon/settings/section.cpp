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
constexpr std::size_t kPathMax = 1000;
constexpr std::size_t kTextMax = 1000;
constexpr std::size_t kWordsShown = 20;

bool is_id(const std::string& id) {
  const auto fits = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_';
  };
  return !id.empty() && id.size() <= kIdMax && std::all_of(id.begin(), id.end(), fits);
}

bool one_line(const std::string& text) {
  return std::none_of(text.begin(), text.end(),
                      [](char c) { return static_cast<unsigned char>(c) < 0x20; });
}

std::vector<std::string> keys_of(std::string_view section) {
  std::vector<std::string> keys;
  for (const OptionRow& row : rows_of(section)) keys.emplace_back(row.key);
  return keys;
}

}  // namespace

void FileFindings::error(Place at, std::string text) {
  ++errors_;
  all_.push_back({Severity::error, file_, at.line, at.column, std::move(text)});
}

void FileFindings::warning(Place at, std::string text) {
  all_.push_back({Severity::warning, file_, at.line, at.column, std::move(text)});
}

std::string known_words(std::string_view given, const std::vector<std::string>& known) {
  const std::vector<std::string_view> words(known.begin(), known.end());
  const auto near = nearest(given, words);
  const std::size_t shown = std::min(words.size(), kWordsShown);
  std::string text = near ? fmt::format("nearest is '{}'; ", *near) : "";
  text += fmt::format("allowed: {}", fmt::join(words.begin(), words.begin() + shown, ", "));
  return shown < words.size() ? text + fmt::format(" and {} more", words.size() - shown) : text;
}

std::optional<double> plain_number(std::string_view text) {
  double value = 0;
  const auto [end, code] =
      std::from_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
  if (code != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

std::optional<std::string> wrong_text(OptionType type, std::string_view key,
                                      const std::string& value) {
  if (type == OptionType::pointer) {
    if (valid_pointer(value)) return std::nullopt;
    return in_quotes(value) + " is no JSON pointer; allowed: empty, or /member/member (RFC 6901)";
  }
  if (type == OptionType::id) {
    if (is_id(value)) return std::nullopt;
    return fmt::format("{} is no name; allowed: letters, digits, - and _, at most {} of them",
                       in_quotes(value), kIdMax);
  }
  if (value.empty()) return fmt::format("'{}' is empty; it takes a {}", key, name_of(type));
  if (type == OptionType::topic) {
    const bool fits = value.size() <= kTopicMax && one_line(value) && value.front() != '$' &&
                      value.find_first_of("#+") == std::string::npos;
    if (fits) return std::nullopt;
    return fmt::format(
        "{} is no topic; allowed: a path like cellar/tub-1/air, without # and +, not under $, at "
        "most {} bytes",
        in_quotes(value), kTopicMax);
  }
  if (type == OptionType::path && (value.front() != '/' || value.size() > kPathMax)) {
    return fmt::format("{} is no full path; allowed: a path from the root, like /etc/tubwarden/x",
                       in_quotes(value));
  }
  if (!one_line(value) || value.size() > kTextMax) {
    return fmt::format("'{}' takes one line of at most {} bytes", key, kTextMax);
  }
  return std::nullopt;
}

Section::Section(const YamlNode& node, std::string_view section, FileFindings& findings)
    : node_(node), section_(section), findings_(findings) {
  ENSURE(!rows_of(section).empty());
  if (node.kind == YamlNode::Kind::refused) return;
  if (node.kind != YamlNode::Kind::map) {
    findings.error(node, fmt::format("a section of keys belongs here; allowed: {}",
                                     fmt::join(keys_of(section), ", ")));
    return;
  }
  for (const auto& [key, value] : node.members) {
    if (row_of(section, key.text)) continue;
    findings.error(key, fmt::format("unknown key {}; {}", in_quotes(key.text),
                                    known_words(key.text, keys_of(section))));
  }
  for (const OptionRow& row : rows_of(section)) {
    if (!row.required() || find(row.key)) continue;
    findings.error(
        node, fmt::format("'{}' is missing here ({}): {}", row.key, name_of(row.type), row.help));
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

Place Section::key_at(std::string_view key) const {
  for (const auto& [name, value] : node_.members) {
    if (name.text == key) return name;
  }
  return node_;
}

std::optional<std::string> Section::scalar(std::string_view key) const {
  const OptionRow& r = row(key);
  const YamlNode* value = find(key);
  if (!value) {
    if (r.required() || r.fallback.empty()) return std::nullopt;
    return std::string(r.fallback);
  }
  if (value->kind == YamlNode::Kind::scalar) return value->text;
  if (value->kind == YamlNode::Kind::refused) return std::nullopt;
  findings_.error(*value,
                  fmt::format("'{}' {}; it takes a {}", key,
                              value->kind == YamlNode::Kind::empty ? "has no value"
                                                                   : "is a section or a list here",
                              name_of(r.type)));
  return std::nullopt;
}

bool Section::within(const OptionRow& r, double value, Measure measure, Place where) const {
  const Bounds bounds = r.unit == UnitKind::by_quantity ? bounds_of(section_, measure) : r.limits;
  if (bounds.hold(value)) return true;
  findings_.error(
      where,
      fmt::format("{} is out of range for '{}'; allowed: {} to {}", amount_text(value, measure),
                  r.key, amount_text(bounds.low, measure), amount_text(bounds.high, measure)));
  return false;
}

std::optional<double> Section::taken(const OptionRow& r, const Result<double>& parsed,
                                     Measure measure, Place where) const {
  if (!parsed.ok()) {
    findings_.error(where, parsed.error().text);
    return std::nullopt;
  }
  if (!within(r, *parsed, measure, where)) return std::nullopt;
  return *parsed;
}

std::optional<std::string> Section::text(std::string_view key) const {
  auto given = scalar(key);
  if (!given) return std::nullopt;
  const OptionRow& r = row(key);
  std::optional<std::string> wrong;
  if (r.type == OptionType::word) {
    const auto words = words_in(r.words);
    if (std::find(words.begin(), words.end(), *given) == words.end()) {
      wrong = fmt::format("{} is not allowed for '{}'; {}", in_quotes(*given), key,
                          known_words(*given, words));
    }
  } else {
    wrong = wrong_text(r.type, key, *given);
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
    const bool never = row(key).type == OptionType::amount_or_never;
    findings_.error(at(key), parsed.error().text + (never ? ", or never" : ""));
    return std::nullopt;
  }
  if (!within(row(key), seconds_of(*parsed), Measure::duration, at(key))) return std::nullopt;
  return *parsed;
}

std::optional<double> Section::number(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  const OptionRow& r = row(key);
  const auto value = plain_number(*given);
  const bool whole = r.type == OptionType::integer;
  if (!value || (whole && *value != std::floor(*value))) {
    findings_.error(at(key), fmt::format("{} is not allowed for '{}'; write a {}",
                                         in_quotes(*given), key, name_of(r.type)));
    return std::nullopt;
  }
  if (r.limits.hold(*value)) return value;
  findings_.error(at(key), fmt::format("{} is out of range for '{}'; allowed: {} to {}", *given,
                                       key, trimmed(r.limits.low), trimmed(r.limits.high)));
  return std::nullopt;
}

std::optional<double> Section::amount(std::string_view key) const {
  return amount(key, measure_of(row(key).unit));
}

std::optional<double> Section::amount(std::string_view key, Measure measure) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  return taken(row(key), parse_amount(*given, measure), measure, at(key));
}

std::optional<double> Section::difference(std::string_view key, Measure measure) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  return taken(row(key), parse_difference(*given, measure), measure, at(key));
}

std::optional<std::array<double, 2>> Section::pair(std::string_view key, Measure measure) const {
  const YamlNode* value = find(key);
  if (!value || value->kind == YamlNode::Kind::refused) return std::nullopt;
  if (value->kind != YamlNode::Kind::list || value->items.size() != 2) {
    findings_.error(*value, fmt::format("'{}' takes two amounts, [low, high]; write each as {}",
                                        key, allowed_units(measure)));
    return std::nullopt;
  }
  std::array<std::optional<double>, 2> both;
  for (std::size_t i = 0; i < 2; ++i) {
    const YamlNode& item = value->items[i];
    both[i] = taken(row(key), parse_amount(item.text, measure), measure, item);
  }
  if (!both[0] || !both[1]) return std::nullopt;
  if (*both[0] < *both[1]) return std::array{*both[0], *both[1]};
  findings_.error(*value,
                  fmt::format("'{}' does not rise; write [low, high], low under high", key));
  return std::nullopt;
}

std::optional<std::array<double, 4>> Section::points(std::string_view key) const {
  const YamlNode* value = find(key);
  if (!value || value->kind == YamlNode::Kind::refused) return std::nullopt;
  std::array<double, 4> numbers{};
  bool shaped = value->kind == YamlNode::Kind::list && value->items.size() == 2;
  for (std::size_t i = 0; shaped && i < 2; ++i) {
    const YamlNode& point = value->items[i];
    shaped = point.kind == YamlNode::Kind::list && point.items.size() == 2;
    for (std::size_t j = 0; shaped && j < 2; ++j) {
      const auto number = plain_number(point.items[j].text);
      shaped = point.items[j].kind == YamlNode::Kind::scalar && number;
      if (shaped) numbers[2 * i + j] = *number;
    }
  }
  if (shaped) return numbers;
  findings_.error(*value,
                  fmt::format("'{}' takes two points of plain numbers, [[read, true], [read, "
                              "true]]: [[32.1, 33.1], [77.0, 75.5]]",
                              key));
  return std::nullopt;
}

std::optional<bool> Section::flag(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  if (*given == "true" || *given == "false") return *given == "true";
  findings_.error(at(key), fmt::format("{} is not allowed for '{}'; write true or false",
                                       in_quotes(*given), key));
  return std::nullopt;
}

std::optional<int> Section::minute_of_day(std::string_view key) const {
  const auto given = scalar(key);
  if (!given) return std::nullopt;
  const auto digit = [&](std::size_t i) { return (*given)[i] - '0'; };
  const bool shaped =
      given->size() == 5 && (*given)[2] == ':' &&
      std::count_if(given->begin(), given->end(), [](char c) { return c >= '0' && c <= '9'; }) == 4;
  if (shaped) {
    const int hour = digit(0) * 10 + digit(1), minute = digit(3) * 10 + digit(4);
    if (hour < 24 && minute < 60) return hour * 60 + minute;
  }
  findings_.error(
      at(key), fmt::format("{} is no time of day; write HH:MM, 00:00 to 23:59", in_quotes(*given)));
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
  findings_.error(at(key),
                  fmt::format("{} is not allowed for '{}'; write rest, run or N %, 0 to 100",
                              in_quotes(*given), key));
  return std::nullopt;
}

std::optional<Section> Section::section(std::string_view key) const {
  const YamlNode* value = find(key);
  if (!value || value->kind == YamlNode::Kind::refused) return std::nullopt;
  return Section(*value, row(key).words, findings_);
}

std::vector<const YamlNode*> Section::list(std::string_view key) const {
  std::vector<const YamlNode*> items;
  const YamlNode* value = find(key);
  if (!value || value->kind == YamlNode::Kind::empty) return items;
  if (value->kind == YamlNode::Kind::refused) return items;
  if (value->kind != YamlNode::Kind::list) {
    findings_.error(*value, fmt::format("'{}' takes a list; begin each item with a dash", key));
    return items;
  }
  for (const YamlNode& item : value->items) items.push_back(&item);
  return items;
}

}  // namespace tubwarden
