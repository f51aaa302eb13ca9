#include "host/plugin_options.hpp"

#include <chrono>
#include <optional>

#include "sdk/wiring.hpp"

namespace tubwarden::host {

namespace {

/// A duration as the interface promises it: whole milliseconds.
std::optional<std::string> as_milliseconds(const std::string& text) {
  const auto one = Wiring::duration(text);
  return one ? std::optional(std::to_string(one->count())) : std::nullopt;
}

std::vector<std::string> values_of(const tw_option& row, const Wiring& wiring) {
  if (std::string_view(row.type) == "list") {
    const auto list = wiring.list(row.name);
    if (list) return *list;
    return row.fallback == nullptr || *row.fallback == '\0'
               ? std::vector<std::string>{}
               : std::vector<std::string>{row.fallback};
  }
  std::optional<std::string> value = wiring.text_if(row.name);
  if (!value && row.fallback != nullptr) value = row.fallback;
  if (!value) return {};
  if (std::string_view(row.type) != "duration") return {*value};
  return {as_milliseconds(*value).value_or(*value)};
}

}  // namespace

PluginOptions::PluginOptions(const tw_plugin& plugin, std::string_view wiring_json) {
  const Result<Wiring> parsed = Wiring::parse(wiring_json);
  const Wiring wiring = parsed ? *parsed : Wiring{};
  for (std::uint32_t i = 0; i < plugin.option_count; ++i) {
    values_[plugin.options[i].name] = values_of(plugin.options[i], wiring);
  }
}

const char* PluginOptions::get(const char* name, std::uint32_t index) const {
  const auto found = values_.find(name != nullptr ? name : "");
  if (found == values_.end() || index >= found->second.size()) return nullptr;
  return found->second[index].c_str();
}

}  // namespace tubwarden::host
