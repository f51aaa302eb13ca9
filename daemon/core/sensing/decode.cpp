#include "core/sensing/decode.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>
#include <string>

#include "base/ensure.hpp"
#include "base/text.hpp"

namespace tubwarden {

namespace {

using Json = nlohmann::json;

constexpr std::string_view kBlank = " \t\r\n";
/// A stamp beyond the year 5138 is no stamp; keeps the sums far from overflow.
constexpr double kUnixSecondsMax = 1e11;

std::string_view trimmed_of_blanks(std::string_view text) {
  const std::size_t first = text.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

/// The number that the whole text is; NaN for a word that is one to C++ but not to JSON, and for
/// one too large for a double. Nothing when the text is something else.
std::optional<double> bare_number(std::string_view text) {
  double value = 0.0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (stop != end || text.empty() || error == std::errc::invalid_argument) return std::nullopt;
  return error == std::errc() ? value : std::nan("");
}

/// Whether brackets outside strings nest deeper than allowed; the parser itself has no limit.
bool too_deep(std::string_view text) {
  std::size_t depth = 0;
  bool in_string = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (in_string) {
      if (c == '\\') {
        ++i;
      } else if (c == '"') {
        in_string = false;
      }
    } else if (c == '"') {
      in_string = true;
    } else if (c == '{' || c == '[') {
      if (++depth > kReadingDepthMax) return true;
    } else if ((c == '}' || c == ']') && depth > 0) {
      --depth;
    }
  }
  return false;
}

const Json* element(const Json& array, std::string_view index) {
  std::size_t n = 0;
  const char* const end = index.data() + index.size();
  const auto [stop, error] = std::from_chars(index.data(), end, n);
  const bool leading_zero = index.size() > 1 && index.front() == '0';
  if (error != std::errc() || stop != end || leading_zero || n >= array.size()) return nullptr;
  return &array[n];
}

const Json* member(const Json& object, std::string_view token) {
  if (token.find('~') == std::string_view::npos) {
    const auto it = object.find(token);
    return it == object.end() ? nullptr : &*it;
  }
  std::string name;
  for (std::size_t i = 0; i < token.size(); ++i) {
    const bool escape = token[i] == '~' && i + 1 < token.size();
    name += !escape ? token[i] : (token[++i] == '1' ? '/' : '~');
  }
  const auto it = object.find(name);
  return it == object.end() ? nullptr : &*it;
}

/// RFC 6901 section 4; null where it leads nowhere.
const Json* at(const Json& document, std::string_view pointer) {
  const Json* here = &document;
  while (!pointer.empty() && here != nullptr) {
    pointer.remove_prefix(1);  // the slash
    const std::string_view token = pointer.substr(0, pointer.find('/'));
    pointer.remove_prefix(token.size());
    if (here->is_object()) {
      here = member(*here, token);
    } else if (here->is_array()) {
      here = element(*here, token);
    } else {
      here = nullptr;
    }
  }
  return here;
}

std::optional<double> number_of(const Json& node) {
  if (!node.is_number()) return std::nullopt;
  return node.get<double>();
}

DecodedQuantity refusal(Refusal why) {
  return {.state = DecodedQuantity::State::refused, .at_least = false, .value = 0.0, .why = why};
}

DecodedQuantity judge(const QuantitySource& source, std::optional<double> raw) {
  if (!raw || !std::isfinite(*raw)) return refusal(Refusal::not_a_number);
  const double value = kept_value(source, *raw);
  if (!std::isfinite(value)) return refusal(Refusal::not_a_number);
  DecodedQuantity taken;
  taken.state = DecodedQuantity::State::taken;
  taken.value = value;
  if (source.quantity == Quantity::co2 && value >= source.range_high &&
      value <= source.range_high * kTopSlack) {
    taken.value = calibrated(source, source.range_high);
    taken.at_least = true;
    return taken;
  }
  if (value < source.range_low || value > source.range_high) return refusal(Refusal::out_of_range);
  taken.value = calibrated(source, value);
  return taken;
}

Decoded refused_whole(const SensorPlan& plan, Refusal why) {
  Decoded decoded;
  decoded.whole = why;
  for (const QuantitySource& source : plan.quantities) {
    decoded.quantities[index_of(source.quantity)] = refusal(why);
  }
  return decoded;
}

std::optional<WallTime> stamp_of(const Json& node, StampForm form) {
  if (form == StampForm::rfc3339) {
    if (!node.is_string()) return std::nullopt;
    return parse_rfc3339(node.get_ref<const std::string&>());
  }
  const std::optional<double> number = number_of(node);
  if (!number) return std::nullopt;
  const double unix_s = form == StampForm::unix_ms ? *number / 1000.0 : *number;
  if (!std::isfinite(unix_s) || std::fabs(unix_s) > kUnixSecondsMax) return std::nullopt;
  return WallTime(milliseconds(std::llround(unix_s * 1000.0)));
}

void read_stamp(const Json& document, const StampPlan& plan, WallTime now, Decoded& decoded) {
  const Json* node = at(document, plan.at);
  if (node == nullptr) return;
  const std::optional<WallTime> stamp = stamp_of(*node, plan.form);
  // In milliseconds: nanoseconds hold 292 years, and a stamp may be any.
  constexpr auto kAhead = duration_cast<milliseconds>(kStampAheadMax);
  if (!stamp || *stamp - now > kAhead) {
    decoded.stamp_refused = true;
    return;
  }
  constexpr auto kOldest = duration_cast<milliseconds>(hours(24 * 365 * 200));
  decoded.age = std::clamp<milliseconds>(now - *stamp, milliseconds(0), kOldest);
}

}  // namespace

std::string_view name_of(Refusal refusal) {
  switch (refusal) {
    case Refusal::too_long:
      return "too long";
    case Refusal::too_deep:
      return "too deep";
    case Refusal::not_json:
      return "not JSON";
    case Refusal::not_a_number:
      return "not a number";
    case Refusal::out_of_range:
      return "out of range";
  }
  ENSURE(false);
}

bool Decoded::any_taken() const {
  return std::ranges::any_of(quantities, [](const DecodedQuantity& q) {
    return q.state == DecodedQuantity::State::taken;
  });
}

bool Decoded::refused() const {
  const bool some = std::ranges::any_of(quantities, [](const DecodedQuantity& q) {
    return q.state == DecodedQuantity::State::refused;
  });
  return some && !any_taken();
}

double kept_value(const QuantitySource& source, double raw) {
  const double measured = raw * source.scale + source.offset;
  switch (source.unit) {
    case SensorUnit::fahrenheit:
      return celsius_from_fahrenheit(measured);
    case SensorUnit::kelvin:
      return celsius_from_kelvin(measured);
    case SensorUnit::percent:
      return source.quantity == Quantity::co2 ? ppm_from_percent(measured) : measured;
    case SensorUnit::celsius:
    case SensorUnit::ppm:
      return measured;
  }
  ENSURE(false);
}

double calibrated(const QuantitySource& source, double kept) {
  if (!source.calibration) return kept;
  const double value = corrected(*source.calibration, kept);
  switch (source.quantity) {
    case Quantity::humidity:
      return std::clamp(value, 0.0, 100.0);
    case Quantity::co2:
      return std::max(value, 0.0);
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return value;
  }
  ENSURE(false);
}

bool valid_pointer(std::string_view pointer) {
  if (!pointer.empty() && pointer.front() != '/') return false;
  for (std::size_t i = 0; i < pointer.size(); ++i) {
    if (pointer[i] != '~') continue;
    if (i + 1 == pointer.size() || (pointer[i + 1] != '0' && pointer[i + 1] != '1')) return false;
  }
  return true;
}

Decoded decode(const SensorPlan& plan, std::string_view payload, std::optional<WallTime> wall_now) {
  if (payload.size() > kReadingBytesMax) return refused_whole(plan, Refusal::too_long);
  const std::string_view text = trimmed_of_blanks(payload);
  Decoded decoded;
  if (const std::optional<double> number = bare_number(text)) {
    for (const QuantitySource& source : plan.quantities) {
      if (source.at.empty()) decoded.quantities[index_of(source.quantity)] = judge(source, number);
    }
    return decoded;  // a bare number has no member that could be a stamp
  }
  if (too_deep(text)) return refused_whole(plan, Refusal::too_deep);
  const Json document = Json::parse(text.begin(), text.end(), nullptr, false);
  if (document.is_discarded()) return refused_whole(plan, Refusal::not_json);
  for (const QuantitySource& source : plan.quantities) {
    const Json* node = at(document, source.at);
    if (node == nullptr) continue;
    decoded.quantities[index_of(source.quantity)] = judge(source, number_of(*node));
  }
  if (plan.time && wall_now) read_stamp(document, *plan.time, *wall_now, decoded);
  return decoded;
}

void RefusalCounts::count(const Decoded& decoded) {
  for (const DecodedQuantity& q : decoded.quantities) {
    if (q.state == DecodedQuantity::State::refused) ++counts_[static_cast<std::size_t>(q.why)];
  }
  if (decoded.stamp_refused) ++stamps_;
}

std::uint64_t RefusalCounts::total() const {
  return std::accumulate(counts_.begin(), counts_.end(), std::uint64_t{0});
}

}  // namespace tubwarden
