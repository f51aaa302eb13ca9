#include "programs/cli/render.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/text.hpp"

namespace tubwarden::cli {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kBold = "\033[1m";
constexpr const char* kRed = "\033[31m";
constexpr const char* kFaint = "\033[2m";
constexpr const char* kEnd = "\033[0m";

std::string in(const Look& look, const char* colour, const std::string& text) {
  return look.colour ? colour + text + kEnd : text;
}

std::string text_of(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_string() ? it->get<std::string>() : "";
}

double number_of(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_number() ? it->get<double>() : 0.0;
}

std::string since(double seconds) { return spoken(from_seconds(std::floor(seconds))); }

/// "2026-11-25T10:00:00.000Z" as "2026-11-25 10:00".
std::string day_and_minute(const std::string& rfc3339) {
  if (rfc3339.size() < 16) return rfc3339;
  return rfc3339.substr(0, 10) + " " + rfc3339.substr(11, 5);
}

const Json* tub_of(const Json& status, const std::string& chamber) {
  for (const Json& tub : status["tubs"]) {
    if (text_of(tub, "chamber") == chamber && text_of(tub, "id") == chamber) return &tub;
  }
  return nullptr;
}

std::string phase_words(const Json& tub) {
  const std::string phase = text_of(tub, "phase");
  if (phase.empty()) return fmt::format("batch {}, phase not confirmed", text_of(tub, "batch"));
  std::string words = fmt::format("batch {}, {}", text_of(tub, "batch"), phase);
  if (tub["day"].is_number()) words += fmt::format(", day {}", tub["day"].get<int>());
  return words;
}

std::string reading_line(const Json& q, const Look& look) {
  const std::string unit = text_of(q, "unit");
  const int digits = unit == "ppm" ? 0 : 1;
  std::string value = "-";
  if (q["value"].is_number()) {
    value = fmt::format("{}{:.{}f} {}", q.value("at_least", false) ? ">= " : "",
                        q["value"].get<double>(), digits, unit);
  }
  std::string line = fmt::format("  {:<21} {:>12}  ", text_of(q, "word"), value);
  if (q["keep"].is_array()) {
    const double low = q["keep"][0], high = q["keep"][1];
    const double at = q["value"].is_number() ? q["value"].get<double>() : NAN;
    line += fmt::format("{:>5} {} {:<5}", trimmed(low, 1), ruled(at, low, high), trimmed(high, 1));
  }
  if (!q["value"].is_number()) return line + "  no reading yet";
  if (!q.value("usable", false)) {
    return line + in(look, kRed, fmt::format("  {} old, not used", since(number_of(q, "age_s"))));
  }
  return line;
}

std::string actuator_lines(const Json& a, const Look& look) {
  const double level = number_of(a, "level_pct");
  const std::string health = text_of(a, "health");
  std::string mark = level >= 100 ? "#" : level > 0 ? "+" : ".";
  const std::string head = fmt::format("  {} {:<10} ", mark, text_of(a, "id"));
  std::string text = text_of(a, "why");
  if (health != "ready") text += fmt::format(" ({})", health);
  const std::string body = wrapped(text, look.columns - 15, std::string(15, ' '));
  return (level > 0 ? in(look, kBold, head) : head) + "  " + body + "\n";
}

std::string alert_line(const Json& alert, const Look& look) {
  const std::string head = fmt::format("! {} ", text_of(alert, "rank"));
  const std::string text =
      fmt::format("{} (since {})", text_of(alert, "text"), since(number_of(alert, "since_s")));
  return in(look, kRed, head) +
         wrapped(text, look.columns - static_cast<int>(head.size()),
                 std::string(head.size(), ' ')) +
         "\n";
}

std::string site_lines(const Json& status, const Look& look) {
  const Json& broker = status["broker"];
  const bool up = broker.value("up", false);
  const std::string at = text_of(status, "at");
  std::string text = in(look, kBold, text_of(status, "site")) + "  " +
                     (at.empty() ? "clock not set" : day_and_minute(at) + " UTC") + "\n";
  const std::string link =
      fmt::format("broker {} for {}", up ? "up" : "AWAY", since(number_of(broker, "since_s")));
  text += "  " + (up ? link : in(look, kRed, link));
  text += fmt::format("; messages {} taken, {} refused, {} dropped; record {} entries\n",
                      number_of(broker, "received"), number_of(broker, "refused"),
                      number_of(broker, "dropped"), number_of(status["record"], "entries"));
  const Json& config = status["config"];
  if (text_of(config, "state") != "as read") {
    text += in(look, kRed, "  configuration: " + text_of(config, "state")) + "\n";
    for (const Json& finding : config["findings"]) {
      text += "    " + wrapped(finding.get<std::string>(), look.columns - 4, "    ") + "\n";
    }
  }
  return text;
}

std::string chamber_lines(const Json& status, const Json& chamber, const Look& look) {
  const std::string id = text_of(chamber, "id");
  std::string text = "\n" + in(look, kBold, id);
  if (const Json* own = tub_of(status, id)) {
    text += "  " + phase_words(*own) + "\n";
    if (const std::string note = text_of(*own, "note"); !note.empty()) {
      text += in(look, kRed, "  " + note) + "\n";
    }
  } else {
    text += fmt::format("  chamber, led by {}\n", text_of(chamber, "leader"));
    for (const Json& tub : status["tubs"]) {
      if (text_of(tub, "chamber") != id) continue;
      const std::string note = text_of(tub, "note");
      text += fmt::format("  {:<10} {}{}\n", text_of(tub, "id"), phase_words(tub),
                          note.empty() ? "" : " (" + note + ")");
    }
  }
  for (const Json& q : chamber["air"]) text += reading_line(q, look) + "\n";
  for (const Json& a : chamber["actuators"]) text += actuator_lines(a, look);
  return text;
}

Json parsed(const std::string& json) { return Json::parse(json, nullptr, false); }

}  // namespace

std::string ruled(double value, double low, double high) {
  constexpr int kInside = 8, kOutside = 4;
  std::string line = std::string(kOutside, '.') + "[" + std::string(kInside, '-') + "]" +
                     std::string(kOutside, '.');
  if (!std::isfinite(value) || high <= low) return line;
  // The band lies on columns 4.5 .. 13.5; half its width is shown on either side.
  const double columns = (value - low) / (high - low) * (kInside + 1) + kOutside;
  const int last = static_cast<int>(line.size()) - 1;
  const int at = static_cast<int>(std::lround(columns));
  if (at < 0) {
    line[0] = '<';
  } else if (at > last) {
    line[static_cast<std::size_t>(last)] = '>';
  } else {
    line[static_cast<std::size_t>(at)] = 'o';
  }
  return line;
}

std::string wrapped(const std::string& text, int columns, const std::string& indent) {
  const std::size_t width = static_cast<std::size_t>(std::max(columns, 20));
  std::string lines, line;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t blank = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, blank - at);
    if (!line.empty() && line.size() + 1 + word.size() > width) {
      lines += line + "\n" + indent;
      line.clear();
    }
    line += (line.empty() ? "" : " ") + word;
    at = blank + 1;
  }
  return lines + line;
}

std::string render_status(const std::string& json, const Look& look) {
  const Json status = parsed(json);
  std::string text = site_lines(status, look);
  for (const Json& alert : status["alerts"]) text += alert_line(alert, look);
  for (const Json& chamber : status["chambers"]) text += chamber_lines(status, chamber, look);
  if (status["chambers"].empty()) {
    text += "\nno tub is configured yet; put a file into tubs/ of the configuration folder\n";
  }
  return text;
}

std::string render_why(const std::string& json, const Look& look) {
  const Json why = parsed(json);
  std::string text;
  for (const Json& line : why["lines"]) {
    const std::string head = fmt::format("{:<10} ", text_of(line, "id"));
    text += in(look, kBold, head) +
            wrapped(text_of(line, "why"), look.columns - 11, std::string(11, ' ')) + "\n";
  }
  return text;
}

std::string render_alerts(const std::string& json, const Look& look) {
  const Json alerts = parsed(json);
  std::string text;
  for (const Json& alert : alerts["alerts"]) text += alert_line(alert, look);
  return text.empty() ? "no alert stands\n" : text;
}

std::string render_outputs(const std::string& json, const Look& look) {
  const Json outputs = parsed(json);
  std::string text =
      in(look, kFaint,
         fmt::format("{:<20} {:<12} {:>5} {:<12} {:>8} {:>7}  {}\n", "output", "driver", "level",
                     "state", "lease", "starts", "falls by itself"));
  for (const Json& o : outputs["outputs"]) {
    const Json falls = o.value("falls_by_itself", Json());
    text += fmt::format("{:<20} {:<12} {:>4}% {:<12} {:>7}s {:>7}  {}\n",
                        text_of(o, "chamber") + "/" + text_of(o, "id"), text_of(o, "plugin"),
                        number_of(o, "level_pct"), text_of(o, "health"),
                        number_of(o, "lease_left_s"), number_of(o, "restarts"),
                        falls.is_string() ? falls.get<std::string>() : "with its host");
  }
  return text;
}

std::string render_rows(const std::string& json, const Look& look) {
  const Json answer = parsed(json);
  std::string text;
  for (const Json& row : answer["rows"]) {
    const bool set = row.value("clock_set", true);
    std::string what = text_of(row, "text");
    const std::string tub = text_of(row, "tub");
    if (!tub.empty() && what.find(tub) == std::string::npos) what = tub + ": " + what;
    if (row["corrects"].is_number())
      what += fmt::format(" (corrects {})", row["corrects"].get<int>());
    const std::string head = fmt::format("{:>5}  {:<16}  {:<8}  ", row.value("id", 0),
                                         set ? day_and_minute(text_of(row, "at")) : "clock not set",
                                         text_of(row, "who"));
    text +=
        in(look, kFaint, head) +
        wrapped(what, look.columns - static_cast<int>(head.size()), std::string(head.size(), ' ')) +
        "\n";
  }
  return text.empty() ? "nothing is recorded yet\n" : text;
}

std::string render_text(const std::string& json) { return text_of(parsed(json), "text") + "\n"; }

std::string pretty(const std::string& json) { return parsed(json).dump(2) + "\n"; }

}  // namespace tubwarden::cli
