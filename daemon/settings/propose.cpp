#include "settings/propose.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "settings/section.hpp"
#include "settings/yaml_text.hpp"

namespace tubwarden {
namespace {

/// A sensor counts as silent after so many of its own intervals, but not before the usual time.
constexpr int kIntervalsMissed = 4;
constexpr Duration kUsualStale = minutes(2);
constexpr Duration kLongestStale = hours(24);  ///< what `stale_after` may be at most

/// Last levels of a topic that do not name a sensor.
constexpr std::array<std::string_view, 8> kSaysNothing = {"state",  "status", "value",  "data",
                                                          "sensor", "SENSOR", "update", "get"};

std::string as_id(std::string_view text) {
  std::string id;
  for (const char c : text) {
    const bool fits = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                      c == '-' || c == '_';
    if (fits) id += c;
    if (!fits && !id.empty() && id.back() != '-') id += '-';
  }
  while (!id.empty() && id.back() == '-') id.pop_back();
  constexpr std::size_t kLeft = 36;  // room for a number behind it
  return id.substr(0, kLeft);
}

/// The last level of the topic that says something.
std::string name_in(std::string_view topic) {
  std::string name;
  while (!topic.empty()) {
    const std::size_t slash = topic.rfind('/');
    const std::string_view level =
        slash == std::string_view::npos ? topic : topic.substr(slash + 1);
    topic = slash == std::string_view::npos ? "" : topic.substr(0, slash);
    const bool empty_word =
        std::find(kSaysNothing.begin(), kSaysNothing.end(), level) != kSaysNothing.end();
    name = as_id(level);
    if (!name.empty() && !empty_word) return name;
  }
  return name.empty() ? "sensor" : name;
}

struct Item {
  std::vector<const NumberGuess*> sure, maybe;
};

bool holds(const std::vector<const NumberGuess*>& all, const NumberGuess& number) {
  return std::any_of(all.begin(), all.end(), [&](const NumberGuess* other) {
    return other->looks->what == number.looks->what;
  });
}

/// A sensor takes each quantity once; a second one of a message goes to a second sensor.
std::vector<Item> items_of(const MessageGuess& guess) {
  std::vector<Item> items;
  for (const bool sure : {true, false}) {
    for (const NumberGuess& number : guess.numbers) {
      if (!number.looks || number.quoted || number.looks->maybe == sure) continue;
      auto item = std::find_if(items.begin(), items.end(), [&](const Item& i) {
        return !holds(i.sure, number) && !holds(i.maybe, number);
      });
      if (item == items.end()) item = items.insert(items.end(), Item{});
      (sure ? item->sure : item->maybe).push_back(&number);
    }
  }
  return items;
}

/// Nothing for the unit that is read where none is given.
std::string unit_word(const Looks& looks) {
  switch (looks.unit) {
    case SensorUnit::fahrenheit:
      return "F";
    case SensorUnit::kelvin:
      return "K";
    case SensorUnit::percent:
      return looks.what == Measured::co2 ? "%" : "";
    case SensorUnit::celsius:
    case SensorUnit::ppm:
      return "";
  }
  ENSURE(false);
}

struct Line {
  std::string text;
  bool place_unsaid = false;
};

Line line_of(const NumberGuess& number, GuessedPlace place) {
  const Looks& looks = *number.looks;
  std::vector<std::string> parts;
  if (!number.at.empty()) parts.push_back("at: " + yaml_value(number.at));
  if (const std::string unit = unit_word(looks); !unit.empty()) {
    parts.push_back("unit: " + yaml_value(unit));
  }
  if (looks.scale != 1.0) parts.push_back("scale: " + trimmed(looks.scale, 4));
  Line line;
  if (looks.what == Measured::temperature) {
    if (looks.place != GuessedPlace::unsaid) place = looks.place;
    line.place_unsaid = place == GuessedPlace::unsaid;
    parts.push_back(place == GuessedPlace::substrate ? "place: substrate" : "place: air");
  }
  line.text = fmt::format("{}: {{{}}}", name_of(looks.what), fmt::join(parts, ", "));
  return line;
}

std::string stale_line(const HeardSensor& heard) {
  if (!heard.every) return "";
  const Duration wanted = *heard.every * kIntervalsMissed;
  if (wanted <= kUsualStale) return "";
  const auto rounded = std::chrono::ceil<std::chrono::minutes>(wanted);
  return fmt::format("stale_after: {}", spoken(std::min<Duration>(rounded, kLongestStale)));
}

ProposedSensor written(const HeardSensor& heard, const Item& item, std::string id,
                       GuessedPlace place) {
  ProposedSensor sensor;
  sensor.id = std::move(id);
  sensor.topic = heard.topic;
  sensor.sure = !item.sure.empty();
  // A comment as a whole keeps its shape: taking "# " away leaves an item.
  const std::string head = sensor.sure ? "    " : "    # ";
  const std::string maybe = sensor.sure ? "      # " : "    #   ";
  std::string& yaml = sensor.yaml;
  yaml += fmt::format("{}- id: {}\n", head, yaml_value(sensor.id));
  yaml += fmt::format("{}  topic: {}\n", head, yaml_value(heard.topic));
  for (const NumberGuess* number : item.sure) {
    const Line line = line_of(*number, place);
    const char* ask = line.place_unsaid ? "  # or substrate?" : "";
    yaml += fmt::format("{}  {}{}\n", head, line.text, ask);
    sensor.place_unsaid = sensor.place_unsaid || line.place_unsaid;
  }
  for (const NumberGuess* number : item.maybe) {
    const Line line = line_of(*number, place);
    yaml += fmt::format("{}{}  # maybe{}\n", maybe, line.text,
                        line.place_unsaid ? ", or substrate" : "");
    sensor.place_unsaid = sensor.place_unsaid || line.place_unsaid;
  }
  const std::string stale = stale_line(heard);
  if (!stale.empty()) yaml += fmt::format("{}  {}\n", head, stale);
  return sensor;
}

}  // namespace

std::vector<ProposedSensor> propose_sensors(const std::vector<HeardSensor>& heard,
                                            GuessedPlace place) {
  std::vector<ProposedSensor> proposed;
  std::set<std::string> taken;
  for (const HeardSensor& one : heard) {
    if (wrong_text(OptionType::topic, "topic", one.topic)) continue;
    for (const Item& item : items_of(one.guess)) {
      const std::string name = name_in(one.topic);
      std::string id = name;
      for (int n = 2; !taken.insert(id).second; ++n) id = fmt::format("{}-{}", name, n);
      proposed.push_back(written(one, item, id, place));
    }
  }
  return proposed;
}

}  // namespace tubwarden
