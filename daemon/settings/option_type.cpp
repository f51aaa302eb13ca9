#include "base/ensure.hpp"
#include "settings/option_table.hpp"

namespace tubwarden {

std::string_view name_of(OptionType type) {
  switch (type) {
    case OptionType::id:
      return "name";
    case OptionType::text:
      return "text";
    case OptionType::topic:
      return "topic";
    case OptionType::pointer:
      return "JSON pointer";
    case OptionType::path:
      return "full path";
    case OptionType::word:
      return "word";
    case OptionType::number:
      return "number";
    case OptionType::integer:
      return "whole number";
    case OptionType::flag:
      return "true or false";
    case OptionType::level:
      return "rest, run or N %";
    case OptionType::clock:
      return "time of day, HH:MM";
    case OptionType::amount:
      return "amount with its unit";
    case OptionType::amount_or_never:
      return "duration with its unit, or never";
    case OptionType::difference:
      return "amount with its unit";
    case OptionType::pair:
      return "pair of amounts, [low, high]";
    case OptionType::points:
      return "two points, [[read, true], [read, true]]";
    case OptionType::map:
      return "section";
    case OptionType::list:
      return "list";
    case OptionType::either:
      return "amount with its unit, or section";
    case OptionType::name_or_map:
      return "name, or section";
    case OptionType::plugin:
      return "section of the plugin's own options";
  }
  ENSURE(false);
}

Measure measure_of(UnitKind unit) {
  switch (unit) {
    case UnitKind::duration:
      return Measure::duration;
    case UnitKind::volume:
      return Measure::volume;
    case UnitKind::mass:
      return Measure::mass;
    case UnitKind::temperature:
      return Measure::temperature;
    case UnitKind::share:
    case UnitKind::humidity:
      return Measure::humidity;
    case UnitKind::power:
      return Measure::power;
    case UnitKind::co2:
      return Measure::co2;
    case UnitKind::none:
    case UnitKind::by_effect:
    case UnitKind::by_quantity:
      break;
  }
  ENSURE(false);
}

Bounds bounds_of(std::string_view section, Measure measure) {
  const bool sensor = section == "quantity";
  switch (measure) {
    case Measure::humidity:
      return {0, 100};
    case Measure::temperature:
      return sensor ? Bounds{-40, 125} : Bounds{-10, 45};
    case Measure::co2:
      return sensor ? Bounds{0, 1e6} : Bounds{0, 50000};
    case Measure::water_ratio:
      return {0, 40};
    case Measure::pressure:
      return {-5, 5};
    case Measure::duration:
    case Measure::volume:
    case Measure::mass:
    case Measure::water_rate:
    case Measure::air_rate:
    case Measure::power:
    case Measure::share:
    case Measure::gauge:
    case Measure::length:
      break;
  }
  return kAny;
}

std::vector<std::string> words_in(std::string_view bars) {
  std::vector<std::string> words;
  while (!bars.empty()) {
    const std::size_t bar = bars.find('|');
    words.emplace_back(bars.substr(0, bar));
    bars = bar == std::string_view::npos ? "" : bars.substr(bar + 1);
  }
  return words;
}

}  // namespace tubwarden
