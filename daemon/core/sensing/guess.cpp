#include "core/sensing/guess.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/ensure.hpp"
#include "core/sensing/decode.hpp"
#include "core/sensing/guess_words.hpp"

namespace tubwarden {
namespace {

using Ordered = nlohmann::ordered_json;  // a member's place is kept
using guess::Word;

/// Levels of a topic, from its end, that may say what a message without names is.
constexpr std::size_t kTopicLevels = 2;

bool is_upper(char c) { return c >= 'A' && c <= 'Z'; }
bool is_lower(char c) { return c >= 'a' && c <= 'z'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }
char lower(char c) { return is_upper(c) ? static_cast<char>(c - 'A' + 'a') : c; }

Word meaning(std::string_view word) {
  const auto* found = std::find_if(guess::kWords.begin(), guess::kWords.end(),
                                   [&](const guess::WordRow& row) { return row.word == word; });
  return found == guess::kWords.end() ? Word::unknown : found->means;
}

/// "tempF", "air_temp_2", "CO2-ppm" into lower-case words, digits at a word's end left away where
/// the word is not known with them.
std::vector<std::string> words_in_name(std::string_view name) {
  std::vector<std::string> words;
  std::string word;
  const auto finish = [&] {
    while (word.size() > 1 && is_digit(word.back()) && meaning(word) == Word::unknown) {
      word.pop_back();
    }
    if (!word.empty() && !std::all_of(word.begin(), word.end(), is_digit)) words.push_back(word);
    word.clear();
  };
  for (std::size_t i = 0; i < name.size(); ++i) {
    const char c = name[i];
    if (!is_upper(c) && !is_lower(c) && !is_digit(c)) {
      finish();
      continue;
    }
    if (is_upper(c) && i > 0 && is_lower(name[i - 1])) finish();
    word += lower(c);
  }
  finish();
  return words;
}

/// What one name says. A name whose words are none says `unknown`.
struct NameSays {
  bool humidity = false, temperature = false, co2 = false;
  bool maybe = false;
  bool other = false;
  bool unknown = false;  ///< a word that could mean anything
  std::optional<SensorUnit> unit;
  GuessedPlace place = GuessedPlace::unsaid;
  bool names_one() const { return humidity || temperature || co2; }
};

void hear(NameSays& says, Word word) {
  switch (word) {
    case Word::unknown:
      says.unknown = true;
      return;
    case Word::humidity:
    case Word::maybe_humidity:
      says.humidity = true;
      says.maybe = says.maybe || word == Word::maybe_humidity;
      return;
    case Word::temperature:
      says.temperature = true;
      return;
    case Word::co2:
    case Word::maybe_co2:
      says.co2 = true;
      says.maybe = says.maybe || word == Word::maybe_co2;
      return;
    case Word::other:
      says.other = true;
      return;
    case Word::plain:
      return;
    case Word::percent:
      says.unit = SensorUnit::percent;
      return;
    case Word::celsius:
      says.unit = SensorUnit::celsius;
      return;
    case Word::fahrenheit:
      says.unit = SensorUnit::fahrenheit;
      return;
    case Word::kelvin:
      says.unit = SensorUnit::kelvin;
      return;
    case Word::ppm:
      says.unit = SensorUnit::ppm;
      return;
    case Word::in_air:
      says.place = GuessedPlace::air;
      return;
    case Word::in_substrate:
      says.place = GuessedPlace::substrate;
      return;
  }
  ENSURE(false);
}

NameSays heard(std::string_view name) {
  NameSays says;
  std::string joined;
  const std::vector<std::string> words = words_in_name(name);
  for (const std::string& word : words) joined += word;
  // "rH" and "carbonDioxide" are known as one word only.
  if (const Word whole = meaning(joined); words.size() > 1 && whole != Word::unknown) {
    hear(says, whole);
    return says;
  }
  for (const std::string& word : words) hear(says, meaning(word));
  return says;
}

/// A text beside the number that names its unit: {"value": 21.4, "unit": "C"}.
std::optional<SensorUnit> unit_beside(const Ordered& object) {
  if (!object.is_object()) return std::nullopt;
  for (const char* key : {"unit", "units", "uom", "u"}) {
    const auto found = object.find(key);
    if (found == object.end() || !found->is_string()) continue;
    const std::string text = found->get<std::string>();
    if (text.find('%') != std::string::npos) return SensorUnit::percent;
    for (const std::string& word : words_in_name(text)) {
      NameSays says;
      hear(says, meaning(word));
      if (says.unit) return says.unit;
    }
  }
  return std::nullopt;
}

// --- what a value can be, once its name is known ---

std::optional<Looks> humidity_of(double v, bool maybe) {
  Looks looks{Measured::humidity, SensorUnit::percent, 1.0, maybe, GuessedPlace::unsaid};
  if (v > 0 && v < 1) {  // as a fraction
    looks.scale = 100;
    looks.maybe = true;
    return looks;
  }
  if (v > 1000 && v <= 10000) {  // in hundredths
    looks.scale = 0.01;
    looks.maybe = true;
    return looks;
  }
  return v >= 0 && v <= 100 ? std::optional(looks) : std::nullopt;
}

/// Limits of what air and substrate of a tub, a room or a shed can have; wide on purpose.
std::optional<Looks> temperature_of(double v, std::optional<SensorUnit> unit) {
  Looks looks{Measured::temperature, SensorUnit::celsius, 1.0, false, GuessedPlace::unsaid};
  if (unit && *unit != SensorUnit::percent && *unit != SensorUnit::ppm) {
    looks.unit = *unit;
    return looks;
  }
  if (v >= -20 && v <= 45) return looks;
  if (v > 45 && v <= 120) {
    looks.unit = SensorUnit::fahrenheit;
    looks.maybe = true;
    return looks;
  }
  if (v >= 250 && v <= 330) {
    looks.unit = SensorUnit::kelvin;
    return looks;
  }
  if (v >= 1000 && v <= 4500 && v == std::floor(v)) {  // in hundredths of a degree
    looks.scale = 0.01;
    looks.maybe = true;
    return looks;
  }
  return std::nullopt;
}

std::optional<Looks> co2_of(double v, std::optional<SensorUnit> unit, bool maybe) {
  Looks looks{Measured::co2, SensorUnit::ppm, 1.0, maybe, GuessedPlace::unsaid};
  if (unit == SensorUnit::percent) {
    looks.unit = SensorUnit::percent;
    return v >= 0 && v <= 20 ? std::optional(looks) : std::nullopt;
  }
  looks.maybe = maybe || v < 200;  // outdoor air has 420: a sensor that warms up, or another unit
  return v >= 0 && v <= 100000 ? std::optional(looks) : std::nullopt;
}

/// No name speaks: a unit word may, else the value alone, and only where it can be one thing.
std::optional<Looks> unnamed(double v, std::optional<SensorUnit> unit) {
  if (unit == SensorUnit::ppm) return co2_of(v, unit, true);
  if (unit == SensorUnit::percent) return humidity_of(v, true);
  if (unit) return temperature_of(v, unit);
  std::optional<Looks> looks;
  if (v >= 5 && v < 32) looks = temperature_of(v, std::nullopt);
  if (v >= 40 && v <= 100) looks = humidity_of(v, true);
  if (v >= 380 && v <= 10000) looks = co2_of(v, std::nullopt, true);
  if (looks) looks->maybe = true;
  return looks;
}

std::optional<Looks> looks_by(const NameSays& says, double v) {
  if (says.humidity) return humidity_of(v, says.maybe);
  if (says.temperature) return temperature_of(v, says.unit);
  if (says.co2) return co2_of(v, says.unit, says.maybe);
  return unnamed(v, says.unit);
}

/// Walks a document; the names around a number lie innermost last.
class Walk {
 public:
  Walk(std::string_view topic, MessageGuess& out) : out_(out) {
    std::vector<std::string_view> levels;
    while (!topic.empty()) {
      const std::size_t slash = topic.rfind('/');
      const bool first = slash == std::string_view::npos;
      levels.push_back(first ? topic : topic.substr(slash + 1));
      topic = first ? std::string_view() : topic.substr(0, slash);
      if (levels.size() == kTopicLevels) break;
    }
    for (auto it = levels.rbegin(); it != levels.rend(); ++it) names_.emplace_back(*it);
  }

  void number(const std::string& at, double value, bool quoted, std::optional<SensorUnit> beside) {
    if (out_.numbers.size() == kGuessesMax) {
      ++out_.left_out;
      return;
    }
    out_.numbers.push_back({at, value, quoted, judged(value, beside)});
  }

  void node(const Ordered& node, const std::string& at, std::size_t depth,
            std::optional<SensorUnit> beside) {
    if (node.is_number()) return number(at, node.get<double>(), false, beside);
    if (node.is_string()) {
      const std::string& text = node.get_ref<const std::string&>();
      double value = 0;
      const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
      const bool is_number = error == std::errc() && stop == text.data() + text.size();
      if (is_number && std::isfinite(value)) number(at, value, true, beside);
      return;
    }
    if (!node.is_structured() || depth > kReadingDepthMax) return;
    const auto unit = unit_beside(node);
    std::size_t index = 0;
    for (auto it = node.begin(); it != node.end(); ++it, ++index) {
      const std::string name = node.is_object() ? it.key() : std::to_string(index);
      names_.push_back(node.is_object() ? name : std::string());
      this->node(*it, at + "/" + escaped(name), depth + 1, unit);
      names_.pop_back();
    }
  }

 private:
  /// The innermost name that names a quantity counts; one that names something else ends it.
  std::optional<Looks> judged(double value, std::optional<SensorUnit> beside) const {
    NameSays says;
    GuessedPlace place = GuessedPlace::unsaid;
    bool passed_unknown = false;
    for (auto name = names_.rbegin(); name != names_.rend(); ++name) {
      const NameSays here = heard(*name);
      if (place == GuessedPlace::unsaid) place = here.place;
      if (says.names_one()) {
        says.maybe = says.maybe || here.other;  // a lamp's or a set point's temperature
        continue;
      }
      if (here.other) return std::nullopt;
      const auto unit = says.unit;
      if (here.names_one()) {
        says = here;
        // A name of another thing stands nearer: {"lamp": 21.3} under .../temperature.
        says.maybe = says.maybe || passed_unknown;
      }
      if (unit) {
        says.unit = unit;
      } else if (!says.unit) {
        says.unit = here.unit;
      }
      passed_unknown = passed_unknown || here.unknown;
    }
    if (beside) says.unit = beside;
    // What is measured in a substrate is its temperature.
    const bool in_bed = !says.names_one() && place == GuessedPlace::substrate;
    if (in_bed) says.temperature = says.maybe = true;
    std::optional<Looks> looks = looks_by(says, value);
    if (!looks) return looks;
    looks->maybe = looks->maybe || says.maybe;
    if (looks->what == Measured::temperature) looks->place = place;
    return looks;
  }

  static std::string escaped(const std::string& name) {
    std::string token;
    for (const char c : name) token += c == '~' ? "~0" : c == '/' ? "~1" : std::string(1, c);
    return token;
  }

  MessageGuess& out_;
  std::vector<std::string> names_;
};

}  // namespace

std::string_view name_of(Measured what) {
  switch (what) {
    case Measured::humidity:
      return "humidity";
    case Measured::temperature:
      return "temperature";
    case Measured::co2:
      return "co2";
  }
  ENSURE(false);
}

MessageGuess guess_numbers(std::string_view topic, std::string_view payload) {
  MessageGuess guess;
  if (payload.size() > kReadingBytesMax) return guess;
  constexpr std::string_view kBlank = " \t\r\n";
  const std::size_t first = payload.find_first_not_of(kBlank);
  if (first == std::string_view::npos) return guess;
  payload = payload.substr(first, payload.find_last_not_of(kBlank) - first + 1);
  Walk walk(topic, guess);
  double value = 0;
  const char* const end = payload.data() + payload.size();
  const auto [stop, error] = std::from_chars(payload.data(), end, value);
  if (error == std::errc() && stop == end) {
    if (std::isfinite(value)) walk.number("", value, false, std::nullopt);
    return guess;
  }
  const Ordered document = Ordered::parse(payload.begin(), payload.end(), nullptr, false);
  if (!document.is_discarded()) walk.node(document, "", 0, std::nullopt);
  return guess;
}

}  // namespace tubwarden
