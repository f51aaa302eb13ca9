#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"
#include "settings/new_folder.hpp"
#include "settings/readers.hpp"

namespace tubwarden {
namespace {

using K = AnswerKind;
using P = AnswerPart;

constexpr const char* kDrivers = "mqtt_relay|simulated|none";

// In the order asked. A part that is switched has the rows of a driver.
constexpr InitQuestion kQuestions[] = {
    {"site", P::site, K::id, "home", "a name for the place; topics begin with it"},
    {"broker", P::site, K::url, "mqtt://127.0.0.1:1883", "the MQTT broker; mqtts:// for TLS"},
    {"user-file", P::site, K::path, "none", "file of two lines: broker user, password", "", true},
    {"ca-file", P::site, K::path, "none", "PEM of who signed the broker's certificate", "", true,
     false},
    {"cert-file", P::site, K::path, "none", "PEM of our certificate, if asked for", "", true,
     false},
    {"key-file", P::site, K::path, "none", "PEM of that certificate's key", "", true, false},
    {"room-temperature", P::site, K::amount, "none", "the room around the tub, as 17 C",
     "room.temperature", true},
    {"room-humidity", P::site, K::amount, "none", "the room's relative humidity, as 55 %",
     "room.humidity", true},
    {"record", P::site, K::path, "/var/lib/tubwarden", "the folder of the record", "", false,
     false},

    {"tub", P::tub, K::id, "tub-1", "a name for the tub"},
    {"batch", P::tub, K::id, "B-01", "the batch that stands in it"},
    {"phase", P::tub, K::word, "colonization", "the phase it is in"},
    {"net-volume", P::tub, K::amount, "40 L", "its air: the tub less substrate and casing",
     "air.net_volume"},
    {"substrate", P::tub, K::amount, "5 kg", "mass of the substrate", "tub.substrate"},

    {"air-topic", P::sensors, K::topic, "{site}/{tub}/air", "where the air's sensor speaks"},
    {"humidity-at", P::sensors, K::pointer, "/rh", "its humidity: a JSON pointer, or whole", "",
     true},
    {"temperature-at", P::sensors, K::pointer, "/t", "its temperature, likewise", "", true},
    {"co2-at", P::sensors, K::pointer, "none", "its CO2, likewise", "", true},
    {"bed-topic", P::sensors, K::topic, "none", "where a substrate thermometer speaks", "", true},
    {"bed-at", P::sensors, K::pointer, "/t", "its temperature: a JSON pointer, or whole"},
    {"bed-unit", P::sensors, K::word, "C", "the unit it speaks in", "C|F|K"},

    {"mister-driver", P::mister, K::word, "mqtt_relay", "what switches the mister", kDrivers, true},
    {"mister-rate", P::mister, K::amount, "20 g/h", "weigh its tank over ten minutes' run",
     "humidify"},
    {"mister-topic", P::mister, K::topic, "{site}/{tub}/mister", "where its relay listens"},
    {"mister-run", P::mister, K::payload, "1", "what switches it on"},
    {"mister-rest", P::mister, K::payload, "0", "what switches it off"},
    {"mister-confirm", P::mister, K::topic, "none", "where the relay says how it stands", "", true},
    {"mister-falls", P::mister, K::fall, "never", "its relay's own timer, as 30s, or never"},

    {"fan-driver", P::fan, K::word, "mqtt_relay", "what switches the fresh-air fan", kDrivers,
     true},
    {"fan-rate", P::fan, K::amount, "2 m3/h", "the air it moves", "fresh_air"},
    {"fan-topic", P::fan, K::topic, "{site}/{tub}/fan", "where its relay listens"},
    {"fan-run", P::fan, K::payload, "1", "what switches it on"},
    {"fan-rest", P::fan, K::payload, "0", "what switches it off"},
    {"fan-confirm", P::fan, K::topic, "none", "where the relay says how it stands", "", true},
    {"fan-falls", P::fan, K::fall, "never", "its relay's own timer, as 30s, or never"},

    {"heater-driver", P::heater, K::word, "none", "what switches a heater or mat", kDrivers, true},
    {"heater-rate", P::heater, K::amount, "15 W", "its power", "heat"},
    {"heater-topic", P::heater, K::topic, "{site}/{tub}/mat", "where its relay listens"},
    {"heater-run", P::heater, K::payload, "1", "what switches it on"},
    {"heater-rest", P::heater, K::payload, "0", "what switches it off"},
    {"heater-confirm", P::heater, K::topic, "none", "where the relay says how it stands", "", true},
    {"heater-falls", P::heater, K::fall, "never", "its relay's own timer, as 30s, or never"},
    {"heater-cut-out", P::heater, K::words, "none", "what cuts it off by itself, in words", "",
     true},
};

std::string answer(const InitAnswers& answers, std::string_view name) {
  const auto found = answers.find(name);
  return found == answers.end() ? "" : found->second;
}

/// "mister" of "mister-rate": the part that is switched; empty for the others.
std::string switched(const InitQuestion& question) {
  switch (question.part) {
    case P::site:
    case P::tub:
    case P::sensors:
      return "";
    case P::mister:
      return "mister";
    case P::fan:
      return "fan";
    case P::heater:
      return "heater";
  }
  ENSURE(false);
}

Measure measure_of(const InitQuestion& question) {
  if (question.row == "humidify") return Measure::water_rate;
  if (question.row == "fresh_air") return Measure::air_rate;
  if (question.row == "heat") return Measure::power;
  const std::size_t dot = question.row.find('.');
  const OptionRow* row = row_of(question.row.substr(0, dot), question.row.substr(dot + 1));
  ENSURE(row != nullptr);
  return tubwarden::measure_of(row->unit);
}

Bounds bounds_of(const InitQuestion& question) {
  const std::size_t dot = question.row.find('.');
  if (dot == std::string_view::npos) return row_of("actuator", "rate")->limits;
  return row_of(question.row.substr(0, dot), question.row.substr(dot + 1))->limits;
}

std::optional<std::string> wrong_amount(const InitQuestion& question, const std::string& given) {
  const Measure measure = measure_of(question);
  const auto parsed = parse_amount(given, measure);
  if (!parsed.ok()) return parsed.error().text;
  const Bounds bounds = bounds_of(question);
  if (bounds.hold(*parsed)) return std::nullopt;
  return fmt::format("{} is out of range; allowed: {} to {}", in_quotes(given),
                     amount_text(bounds.low, measure), amount_text(bounds.high, measure));
}

std::optional<std::string> wrong_fall(const std::string& given) {
  if (given == "never") return std::nullopt;
  const auto parsed = parse_duration(given);
  if (!parsed.ok()) return parsed.error().text + ", or never";
  const Bounds bounds = row_of("actuator", "falls_by_itself_after")->limits;
  if (bounds.hold(seconds_of(*parsed))) return std::nullopt;
  return fmt::format("{} is out of range; allowed: {} to {}, or never", in_quotes(given),
                     amount_text(bounds.low, Measure::duration),
                     amount_text(bounds.high, Measure::duration));
}

std::optional<std::string> wrong_word(const InitQuestion& question, const std::string& given) {
  const std::vector<std::string> words =
      question.name == "phase" ? button_phases() : words_in(question.row);
  if (std::find(words.begin(), words.end(), given) != words.end()) return std::nullopt;
  return fmt::format("{} is not allowed; {}", in_quotes(given), known_words(given, words));
}

/// What two answers cannot be together.
std::optional<std::string> wrong_beside(const InitQuestion& question, const std::string& given,
                                        const InitAnswers& answers) {
  const std::string part = switched(question);
  if (question.name == "heater-cut-out" && given == kAnswerNone &&
      answer(answers, "heater-falls") == "never") {
    return "a heater that never falls by itself is refused: a lost network would leave it on. "
           "Allowed: a relay with a timer of its own (heater-falls), or an independent thermal "
           "cut-out, in words: \"bimetal switch, 45 C\"";
  }
  if (question.name == part + "-rest" && given == answer(answers, part + "-run")) {
    return "it switches on and off by the same payload; allowed: two different ones";
  }
  if (question.name == part + "-confirm" && given == answer(answers, part + "-topic")) {
    return "this is where the relay listens; allowed: another topic, or none";
  }
  if (question.name == "key-file" &&
      (given == kAnswerNone) != (answer(answers, "cert-file") == kAnswerNone)) {
    return "cert-file and key-file belong together; give both or none";
  }
  const bool of_tls = question.name == "ca-file" || question.name == "cert-file";
  if (of_tls && given != kAnswerNone && answer(answers, "broker").starts_with("mqtt://")) {
    return "certificates are for TLS; write the broker as mqtts://, or leave them out";
  }
  return std::nullopt;
}

std::optional<std::string> wrong_by_kind(const InitQuestion& question, const std::string& given) {
  switch (question.kind) {
    case K::id:
      return wrong_text(OptionType::id, question.name, given);
    case K::topic:
      return wrong_text(OptionType::topic, question.name, given);
    case K::pointer: {
      if (given == kAnswerWhole) return std::nullopt;
      const auto wrong = wrong_text(OptionType::pointer, question.name, given);
      const bool empty = given.empty();
      if (!wrong && !empty) return std::nullopt;
      return fmt::format("{} is no place in a message; allowed: /member (a JSON pointer), or whole",
                         in_quotes(given));
    }
    case K::path:
      return wrong_text(OptionType::path, question.name, given);
    case K::payload:
    case K::words:
      return wrong_text(OptionType::text, question.name, given);
    case K::url:
      return wrong_url(given);
    case K::word:
      return wrong_word(question, given);
    case K::amount:
      return wrong_amount(question, given);
    case K::fall:
      return wrong_fall(given);
  }
  ENSURE(false);
}

}  // namespace

std::string_view title_of(AnswerPart part) {
  switch (part) {
    case P::site:
      return "The place";
    case P::tub:
      return "The tub";
    case P::sensors:
      return "Its sensors";
    case P::mister:
      return "The mister";
    case P::fan:
      return "The fan";
    case P::heater:
      return "The heater";
  }
  ENSURE(false);
}

std::span<const InitQuestion> init_questions() { return kQuestions; }

bool applies(const InitQuestion& question, const InitAnswers& answers) {
  if (question.name == "bed-at" || question.name == "bed-unit") {
    return answer(answers, "bed-topic") != kAnswerNone;
  }
  const std::string part = switched(question);
  if (part.empty() || question.name == part + "-driver") return true;
  const std::string driver = answer(answers, part + "-driver");
  if (driver == "mqtt_relay") {
    return question.name != "heater-cut-out" || answer(answers, "heater-falls") == "never";
  }
  return driver == "simulated" && question.name == part + "-rate";
}

std::string fallback_of(const InitQuestion& question, const InitAnswers& answers) {
  std::string text(question.fallback);
  for (const char* name : {"site", "tub"}) {
    const std::string mark = fmt::format("{{{}}}", name);
    const std::size_t at = text.find(mark);
    if (at != std::string::npos) text.replace(at, mark.size(), answer(answers, name));
  }
  return text;
}

std::optional<std::string> wrong_answer(const InitQuestion& question, const std::string& given,
                                        const InitAnswers& answers) {
  const bool none = given == kAnswerNone && (question.may_be_none || question.kind == K::word);
  if (!none || question.kind == K::word) {
    if (auto wrong = wrong_by_kind(question, given)) {
      const bool say_none = question.may_be_none && question.kind != K::word;
      return say_none ? *wrong + "; or none" : *wrong;
    }
  }
  return wrong_beside(question, given, answers);
}

void take_fallbacks(InitAnswers& answers) {
  for (const InitQuestion& question : kQuestions) {
    if (answers.contains(question.name) || !applies(question, answers)) continue;
    answers[std::string(question.name)] = fallback_of(question, answers);
  }
}

}  // namespace tubwarden
