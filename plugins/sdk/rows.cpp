#include "sdk/rows.hpp"

#include "base/ensure.hpp"
#include "sdk/trial_options.hpp"
#include "sdk/wiring.hpp"

namespace tubwarden {

namespace {

Error wrong_wiring(std::string what) {
  return {ErrorCode::bad_input, "wiring: " + std::move(what)};
}

protocol::OptionRow as_row(const tw_option& o) {
  return {o.name, o.type, o.range,
          o.fallback != nullptr ? std::optional<std::string>(o.fallback) : std::nullopt, o.help};
}

Result<std::vector<std::string>> row_values(const protocol::OptionRow& row, const Wiring& wiring) {
  const auto missing = [&row] {
    return wrong_wiring("'" + row.name + "' is required (" + row.type + "): " + row.help);
  };
  if (row.type == "list") {
    if (!wiring.has(row.name) && row.fallback) return std::vector<std::string>{};
    const auto list = wiring.list(row.name);
    return list ? Result(*list) : Result<std::vector<std::string>>(missing());
  }
  const auto given = wiring.text_if(row.name);
  if (!given && (wiring.has(row.name) || !row.fallback)) return missing();
  const std::string value = given.value_or(row.fallback.value_or(""));
  if (value.empty() && row.fallback) return std::vector<std::string>{value};
  if (const auto allowed = protocol::wrong_value(row, value)) {
    return wrong_wiring("'" + row.name + "' is '" + value + "'; allowed: " + *allowed);
  }
  return std::vector<std::string>{value};
}

}  // namespace

Result<Rows> Rows::read(const tw_option* rows, std::uint32_t count, std::string_view json) {
  const Result<Wiring> wiring = Wiring::parse(json);
  if (!wiring) return wiring.error();
  Rows read;
  std::string known;
  for (std::uint32_t i = 0; i < count; ++i) {
    const protocol::OptionRow row = as_row(rows[i]);
    auto values = row_values(row, *wiring);
    if (!values) return values.error();
    read.values_[row.name] = std::move(values.value());
    known += (known.empty() ? "" : ", ") + row.name;
  }
  for (const std::string& name : wiring->names()) {
    if (!read.values_.contains(name)) {
      return wrong_wiring("no option '" + name + "'; known: " + known);
    }
  }
  return read;
}

const std::vector<std::string>& Rows::list(const std::string& name) const {
  const auto found = values_.find(name);
  ENSURE(found != values_.end());
  return found->second;
}

const std::string& Rows::text(const std::string& name) const {
  const auto& values = list(name);
  ENSURE(values.size() == 1);
  return values.front();
}

std::chrono::milliseconds Rows::duration(const std::string& name) const {
  const auto parsed = Wiring::duration(text(name));
  ENSURE(parsed.has_value());
  return *parsed;
}

}  // namespace tubwarden
