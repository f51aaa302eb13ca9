#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// "low..high" of a plugin's row, or nothing.
std::optional<std::pair<std::string, std::string>> range_of(const PluginOption& option) {
  const std::size_t dots = option.range.find("..");
  if (dots == std::string::npos) return std::nullopt;
  return std::pair(option.range.substr(0, dots), option.range.substr(dots + 2));
}

std::optional<std::string> wrong_number(const std::string& text, const PluginOption& option) {
  const auto number = plain_number(text);
  const bool whole = option.type == "integer";
  if (!number || (whole && text.find('.') != std::string::npos)) {
    return whole ? "a whole number" : "a number";
  }
  const auto range = range_of(option);
  if (!range) return std::nullopt;
  const auto low = plain_number(range->first), high = plain_number(range->second);
  const bool outside = (low && *number < *low) || (high && *number > *high);
  return outside ? std::optional(range->first + " to " + range->second) : std::nullopt;
}

std::optional<std::string> wrong_duration(const std::string& text, const PluginOption& option) {
  const auto given = parse_duration(text);
  if (!given.ok()) return std::string(allowed_units(Measure::duration));
  const auto range = range_of(option);
  if (!range) return std::nullopt;
  const auto low = parse_duration(range->first), high = parse_duration(range->second);
  const bool outside = (low.ok() && *given < *low) || (high.ok() && *given > *high);
  return outside ? std::optional(range->first + " to " + range->second) : std::nullopt;
}

/// What is allowed instead, when the value does not fit its row.
std::optional<std::string> wrong_value(const std::string& text, const PluginOption& option) {
  if (option.type == "duration") return wrong_duration(text, option);
  if (option.type == "number" || option.type == "integer") return wrong_number(text, option);
  if (option.type == "boolean") {
    return text == "true" || text == "false" ? std::nullopt
                                             : std::optional<std::string>("true, false");
  }
  if (option.range.find('|') != std::string::npos) {
    const auto words = words_in(option.range);
    if (std::find(words.begin(), words.end(), text) != words.end()) return std::nullopt;
    return fmt::format("{}", fmt::join(words, ", "));
  }
  return std::nullopt;
}

/// Plugins read whole numbers of one unit.
std::string whole_units(Duration d) {
  const auto ms = duration_cast<milliseconds>(d).count();
  return ms <= 1'000'000 ? fmt::format("{}ms", ms) : fmt::format("{}s", ms / 1000);
}

/// The value as JSON, after a finding when it does not fit its row.
Json take(const YamlNode& value, const PluginOption& option, FileFindings& findings) {
  if (value.kind == YamlNode::Kind::refused) return nullptr;
  const bool list = option.type == "list";
  if (value.kind != (list ? YamlNode::Kind::list : YamlNode::Kind::scalar)) {
    findings.error(value, fmt::format("'{}' takes a value of type {}: {}", option.name, option.type,
                                      option.help));
    return nullptr;
  }
  if (list) {
    Json items = Json::array();
    for (const YamlNode& item : value.items) {
      if (item.kind != YamlNode::Kind::scalar) {
        findings.error(item, fmt::format("'{}' takes a list of texts", option.name));
      }
      items.push_back(item.text);
    }
    if (items.empty() && !option.fallback) {
      findings.error(value,
                     fmt::format("'{}' takes one item or more: {}", option.name, option.help));
    }
    return items;
  }
  const std::string& text = value.text;
  const bool left_empty = text.empty() && option.fallback;
  const bool path = option.type == "file" || option.type == "device";
  if (path || option.type == "topic" || (option.type == "text" && text.empty())) {
    const OptionType type = path                     ? OptionType::path
                            : option.type == "topic" ? OptionType::topic
                                                     : OptionType::text;
    const auto wrong = left_empty ? std::nullopt : wrong_text(type, option.name, text);
    if (wrong) findings.error(value, *wrong);
  } else if (const auto allowed = wrong_value(text, option)) {
    findings.error(value, fmt::format("{} is not allowed for '{}'; allowed: {}", in_quotes(text),
                                      option.name, *allowed));
  } else if (option.type == "duration") {
    return whole_units(*parse_duration(text));
  }
  return text;
}

/// Without rows to check by: the values as they are.
Json as_written(const YamlNode& node) {
  switch (node.kind) {
    case YamlNode::Kind::empty:
    case YamlNode::Kind::refused:
      return nullptr;
    case YamlNode::Kind::scalar:
      return node.text;
    case YamlNode::Kind::list: {
      Json list = Json::array();
      for (const YamlNode& item : node.items) list.push_back(as_written(item));
      return list;
    }
    case YamlNode::Kind::map:
      break;
  }
  Json map = Json::object();
  for (const auto& [key, value] : node.members) map[key.text] = as_written(value);
  return map;
}

const PluginDescription* described(const Section& owner, std::string_view who, bool is_channel,
                                   const PluginCatalogue& plugins) {
  if (!owner.has(who)) return nullptr;
  const std::string& name = owner.at(who).text;
  const auto found = plugins.find(name);
  if (found != plugins.end() && found->second.is(is_channel)) return &found->second;
  std::vector<std::string> known;
  for (const auto& [other, description] : plugins) {
    if (description.is(is_channel)) known.push_back(other);
  }
  const bool other_kind = found != plugins.end();
  owner.findings().error(
      owner.at(who),
      known.empty() ? fmt::format("no {} is called {}; there is none", who, in_quotes(name))
                    : fmt::format("{} {}; {}", in_quotes(name),
                                  other_kind ? (is_channel ? "switches outputs and tells nobody"
                                                           : "is a channel and switches nothing")
                                             : fmt::format("is no {} here", who),
                                  known_words(name, known)));
  return nullptr;
}

}  // namespace

ReadWiring read_wiring(const Section& owner, std::string_view who, bool is_channel,
                       const PluginCatalogue& plugins) {
  ReadWiring read;
  const YamlNode& wiring = owner.at("wiring");
  FileFindings& findings = owner.findings();
  if (!plugins.empty()) read.plugin = described(owner, who, is_channel, plugins);
  if (!owner.has("wiring") || wiring.kind == YamlNode::Kind::refused) return read;
  if (wiring.kind != YamlNode::Kind::map) {
    findings.error(wiring, "'wiring' takes a section, {option: value, ...}");
    return read;
  }
  if (!read.plugin) {
    read.json = as_written(wiring).dump();
    return read;
  }
  const std::vector<PluginOption>& options = read.plugin->options;
  std::vector<std::string> names;
  for (const PluginOption& option : options) names.push_back(option.name);
  Json json = Json::object();
  for (const auto& [key, value] : wiring.members) {
    const auto option = std::find(names.begin(), names.end(), key.text);
    if (option == names.end()) {
      findings.error(key, fmt::format("{} has no option {}; {}", read.plugin->name,
                                      in_quotes(key.text), known_words(key.text, names)));
      continue;
    }
    const PluginOption& row = options[static_cast<std::size_t>(option - names.begin())];
    json[row.name] = take(value, row, findings);
    if (read.plugin->network && row.type == "topic" && !row.fallback && !read.claim) {
      read.claim = Claim{value.text, "", value};
    }
  }
  for (const PluginOption& option : options) {
    if (option.fallback || json.contains(option.name)) continue;
    findings.error(wiring, fmt::format("{} needs '{}' here ({}): {}", read.plugin->name,
                                       option.name, option.type, option.help));
  }
  read.json = json.dump();
  return read;
}

}  // namespace tubwarden
