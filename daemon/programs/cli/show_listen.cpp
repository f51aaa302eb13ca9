#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "programs/cli/listen.hpp"

namespace tubwarden::cli {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kPointerColumnsMax = 24;
/// Room that the words beside a number need; with less they stand below it.
constexpr std::size_t kWordsColumns = 20;

struct Known {
  std::string topic;
  const HeardTopic& heard;
  MessageGuess guess;
};

std::vector<Known> known_of(const ListenBook& book) {
  std::vector<Known> all;
  for (const auto& [topic, heard] : book.topics()) {
    all.push_back({topic, heard, heard.cut ? MessageGuess{} : guess_numbers(topic, heard.payload)});
  }
  return all;
}

std::vector<ProposedSensor> proposed(const std::vector<Known>& all, GuessedPlace place) {
  std::vector<HeardSensor> heard;
  for (const Known& one : all) heard.push_back({one.topic, one.guess, one.heard.every()});
  return propose_sensors(heard, place);
}

std::string told_seconds(double s) { return s < 60 ? trimmed(s, 1) + "s" : shortly(s); }

/// "each 2s, 15 heard", "1 heard, kept by the broker", "kept by the broker, not heard live".
std::string rhythm(const HeardTopic& heard) {
  if (heard.live == 0) return "kept by the broker, none live";
  std::string told = fmt::format("{} heard", heard.live);
  if (const auto every = heard.every()) {
    told = fmt::format("each {}, {}", told_seconds(seconds_of(*every)), told);
  }
  return told + (heard.retained ? ", kept by the broker" : "");
}

std::string_view unit_told(SensorUnit unit) {
  switch (unit) {
    case SensorUnit::percent:
      return "%";
    case SensorUnit::celsius:
      return "C";
    case SensorUnit::fahrenheit:
      return "F";
    case SensorUnit::kelvin:
      return "K";
    case SensorUnit::ppm:
      return "ppm";
  }
  ENSURE(false);
}

std::string quantity_told(const Looks& looks) {
  switch (looks.what) {
    case Measured::humidity:
      return "humidity";
    case Measured::co2:
      return "CO2";
    case Measured::temperature:
      break;
  }
  switch (looks.place) {
    case GuessedPlace::air:
      return "air temperature";
    case GuessedPlace::substrate:
      return "substrate temperature";
    case GuessedPlace::unsaid:
      break;
  }
  return "temperature";
}

std::string looks_told(const NumberGuess& number) {
  const Looks& looks = *number.looks;
  std::string told = fmt::format("{}{} in {}", looks.maybe ? "maybe " : "", quantity_told(looks),
                                 unit_told(looks.unit));
  if (looks.scale != 1.0) told += fmt::format(", x {}", trimmed(looks.scale, 4));
  if (number.quoted) told += "; in quotes, so it is not read";
  return told;
}

void tell_numbers(const Known& one, const Look& look, std::string& page) {
  std::size_t widest = 0, longest = 0;
  for (const NumberGuess& n : one.guess.numbers) {
    if (!n.looks) continue;
    widest = std::max(widest, columns(clean(n.at, look)));
    longest = std::max(longest, trimmed(n.value, 3).size());
  }
  widest = std::min(widest, std::min(kPointerColumnsMax, static_cast<std::size_t>(look.width) / 3));
  for (const NumberGuess& n : one.guess.numbers) {
    if (!n.looks) continue;
    const std::string at =
        widest > 0 ? padded(cut(clean(n.at, look), widest), widest) + "  " : std::string();
    const std::string head = fmt::format("  {}{}  ", at, right(trimmed(n.value, 3), longest));
    const bool narrow = columns(head) + kWordsColumns > static_cast<std::size_t>(look.width);
    if (narrow) page += head + "\n";
    page += beside(narrow ? "      " : head, looks_told(n),
                   n.looks->maybe ? Ink::faint : Ink::plain, look);
  }
}

void tell_topic(const Known& one, const Look& look, std::string& page) {
  const auto width = static_cast<std::size_t>(look.width);
  const std::string topic = clean(one.topic, look);
  const std::string how = rhythm(one.heard);
  const bool fits = columns(topic) + columns(how) + 2 <= width;
  page += inked(topic, Ink::strong, look);
  page += fits ? right(inked(how, Ink::faint, look), width - columns(topic)) + "\n"
               : "\n  " + inked(how, Ink::faint, look) + "\n";
  const std::string sample = clean(one.heard.payload, look);
  page += "  " + (sample.empty() ? "(an empty message)" : cut(sample, width - 2)) + "\n";
  tell_numbers(one, look, page);
  page += "\n";
}

void tell_lines(const std::vector<ProposedSensor>& sensors, const Look& look, std::string& page) {
  if (sensors.empty()) return;
  const auto any = [&](auto test) { return std::any_of(sensors.begin(), sensors.end(), test); };
  page += beside("", "To paste under sensors: in a tub's air, or in a chamber:", Ink::strong, look);
  page += "\n";
  for (const ProposedSensor& sensor : sensors) page += sensor.yaml;
  page += "\n";
  if (any([](const ProposedSensor& s) { return s.place_unsaid; })) {
    page += beside("",
                   "place: says what a thermometer measures, air or substrate, which are kept by "
                   "different rules. Look where each one stands.",
                   Ink::plain, look);
  }
  if (any([](const ProposedSensor& s) { return s.yaml.find("# maybe") != std::string::npos; })) {
    page += beside("", "What is behind # is a guess by the value: take it in only if you know it.",
                   Ink::plain, look);
  }
}

std::string summary(const Overheard& heard, std::size_t topics) {
  return fmt::format(
      "{}: {} on {} in {}", heard.url,
      fmt::format("{} message{}", heard.book.messages(), heard.book.messages() == 1 ? "" : "s"),
      fmt::format("{} topic{}", topics, topics == 1 ? "" : "s"),
      told_seconds(std::round(seconds_of(heard.lasted))));
}

void tell_limits(const Overheard& heard, const Look& look, std::string& page) {
  const auto say = [&](const std::string& text) { page += beside("", text, Ink::faint, look); };
  if (heard.book.ours() > 0) {
    say(fmt::format("{} under tubwarden/ not shown: a daemon's own words.", heard.book.ours()));
  }
  if (heard.book.passed_over() > 0) {
    say(fmt::format("{} on topics beyond the first {} not looked at; name fewer with --under.",
                    heard.book.passed_over(), ListenBook::kTopicsMax));
  }
  if (heard.dropped > 0) say(fmt::format("{} came too fast to be looked at.", heard.dropped));
  if (!heard.lost.empty()) {
    page += beside("", fmt::format("The connection went away meanwhile: {}", heard.lost), Ink::warn,
                   look);
  }
}

Json looks_json(const NumberGuess& number) {
  if (!number.looks) return nullptr;
  const Looks& looks = *number.looks;
  Json told = {{"quantity", name_of(looks.what)},
               {"unit", unit_told(looks.unit)},
               {"scale", looks.scale},
               {"maybe", looks.maybe}};
  if (looks.what == Measured::temperature) {
    told["place"] = looks.place == GuessedPlace::air         ? Json("air")
                    : looks.place == GuessedPlace::substrate ? Json("substrate")
                                                             : Json(nullptr);
  }
  return told;
}

}  // namespace

std::string still_listening(const ListenBook& book, Duration left) {
  return fmt::format("{}s more, {} topic{}; Ctrl-C ends it",
                     std::chrono::ceil<std::chrono::seconds>(left).count(), book.topics().size(),
                     book.topics().size() == 1 ? "" : "s");
}

std::string show_overheard(const Overheard& heard, const Listen& wanted, const Look& look) {
  const std::vector<Known> all = known_of(heard.book);
  std::string page = beside("", summary(heard, all.size()), Ink::plain, look) + "\n";
  for (const Known& one : all) tell_topic(one, look, page);
  const std::vector<ProposedSensor> sensors = proposed(all, wanted.place);
  tell_lines(sensors, look, page);
  if (sensors.empty()) {
    page += beside("",
                   "No sensor was heard. Is it on, and does it speak to this broker? One that "
                   "sleeps may speak every few minutes only: --for 10m.",
                   Ink::plain, look);
  }
  tell_limits(heard, look, page);
  return page;
}

std::string overheard_json(const Overheard& heard, const Listen& wanted) {
  const std::vector<Known> all = known_of(heard.book);
  Json topics = Json::array(), sensors = Json::array();
  for (const Known& one : all) {
    Json numbers = Json::array();
    for (const NumberGuess& n : one.guess.numbers) {
      numbers.push_back(
          {{"at", n.at}, {"value", n.value}, {"quoted", n.quoted}, {"looks", looks_json(n)}});
    }
    const auto every = one.heard.every();
    topics.push_back({{"topic", one.topic},
                      {"live", one.heard.live},
                      {"retained", one.heard.retained},
                      {"every_s", every ? Json(seconds_of(*every)) : Json(nullptr)},
                      {"payload", one.heard.payload},
                      {"payload_cut", one.heard.cut},
                      {"numbers", std::move(numbers)},
                      {"numbers_left_out", one.guess.left_out}});
  }
  for (const ProposedSensor& s : proposed(all, wanted.place)) {
    sensors.push_back({{"id", s.id},
                       {"topic", s.topic},
                       {"sure", s.sure},
                       {"place_unsaid", s.place_unsaid},
                       {"yaml", s.yaml}});
  }
  const Json told = {{"broker", heard.url},
                     {"lasted_s", seconds_of(heard.lasted)},
                     {"messages", heard.book.messages()},
                     {"ours", heard.book.ours()},
                     {"passed_over", heard.book.passed_over()},
                     {"dropped", heard.dropped},
                     {"lost", heard.lost.empty() ? Json(nullptr) : Json(heard.lost)},
                     {"topics", std::move(topics)},
                     {"sensors", std::move(sensors)}};
  return told.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace tubwarden::cli
