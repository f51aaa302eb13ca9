#include "shell/sheet/metrics.hpp"

#include <prometheus/metric_family.h>
#include <prometheus/text_serializer.h>

#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <sstream>
#include <vector>

namespace tubwarden::sheet {
namespace {

using Json = nlohmann::ordered_json;
using Labels = std::vector<prometheus::ClientMetric::Label>;

/// A quantity as it is exposed: in base units where people read it so, too.
struct Exposed {
  const char* quantity;
  const char* name;
  const char* unit;
  double factor;
  const char* help;
};
constexpr Exposed kExposed[] = {
    {"humidity", "tubwarden_relative_humidity", "ratio", 0.01, "Relative humidity of an air"},
    {"air_temperature", "tubwarden_air_temperature", "celsius", 1, "Temperature of an air"},
    {"substrate_temperature", "tubwarden_substrate_temperature", "celsius", 1,
     "Temperature of the substrate in an air"},
    {"co2", "tubwarden_co2", "ppm", 1, "CO2 of an air"},
};

/// A count of the status and its name here.
struct Counted {
  const char* part;
  const char* member;
  const char* name;
  const char* help;
};
constexpr Counted kCounted[] = {
    {"broker", "received", "tubwarden_broker_messages_received_total", "Messages of the broker"},
    {"broker", "refused", "tubwarden_broker_messages_refused_total",
     "Messages that held no reading that can be used"},
    {"broker", "dropped", "tubwarden_broker_messages_dropped_total",
     "Messages that a full inbox lost"},
    {"broker", "readings", "tubwarden_readings_total", "Readings taken"},
    {"broker", "unsent", "tubwarden_broker_messages_unsent_total",
     "Messages not sent while the broker was away"},
    {"record", "entries", "tubwarden_record_entries_total", "Entries written to the record"},
    {"record", "readings", "tubwarden_record_readings_total", "Readings written to the record"},
    {"record", "readings_dropped", "tubwarden_record_readings_dropped_total",
     "Readings that a full queue lost"},
    {"record", "failures", "tubwarden_record_failures_total", "Writes that failed"},
    {"log", "lost", "tubwarden_log_lines_lost_total", "Lines that the log has lost"},
    {"control", "requests", "tubwarden_control_requests_total", "Requests of the control socket"},
};

class Families {
 public:
  void gauge(const std::string& name, const std::string& help, Labels labels, double value) {
    add(name, help, prometheus::MetricType::Gauge, std::move(labels)).gauge.value = value;
  }
  void counter(const std::string& name, const std::string& help, Labels labels, double value) {
    add(name, help, prometheus::MetricType::Counter, std::move(labels)).counter.value = value;
  }
  std::string text() const {
    std::ostringstream out;
    prometheus::TextSerializer().Serialize(out, families_);
    return out.str();
  }

 private:
  prometheus::ClientMetric& add(const std::string& name, const std::string& help,
                                prometheus::MetricType type, Labels labels) {
    const auto [found, first] = at_.try_emplace(name, families_.size());
    if (first) families_.push_back({name, help + ".", type, {}});
    auto& metrics = families_[found->second].metric;
    metrics.emplace_back();
    metrics.back().label = std::move(labels);
    return metrics.back();
  }

  std::map<std::string, std::size_t> at_;
  std::vector<prometheus::MetricFamily> families_;
};

std::string word_in(const Json& object, const char* name) {
  const auto it = object.find(name);
  return it != object.end() && it->is_string() ? it->get<std::string>() : std::string();
}

std::optional<double> number_in(const Json& object, const char* name) {
  const auto it = object.find(name);
  if (it == object.end()) return std::nullopt;
  if (it->is_boolean()) return it->get<bool>() ? 1.0 : 0.0;
  return it->is_number() ? std::optional(it->get<double>()) : std::nullopt;
}

const Json& list_in(const Json& object, const char* name) {
  static const Json kNone = Json::array();
  const auto it = object.find(name);
  return it != object.end() && it->is_array() ? *it : kNone;
}

void add_quantity(Families& f, const std::string& chamber, const Json& q) {
  for (const Exposed& e : kExposed) {
    if (word_in(q, "quantity") != e.quantity) continue;
    const std::string name = e.name;
    const Labels air = {{"chamber", chamber}};
    const auto value = number_in(q, "value");
    const bool usable = value && number_in(q, "usable").value_or(0.0) > 0.0;
    if (usable) f.gauge(name + "_" + e.unit, e.help, air, *value * e.factor);
    const Labels of = {{"chamber", chamber}, {"quantity", e.quantity}};
    f.gauge("tubwarden_reading_usable", "Whether a quantity of an air is live and not stale", of,
            usable ? 1 : 0);
    if (const auto age = number_in(q, "age_s")) {
      f.gauge("tubwarden_reading_age_seconds", "How old the newest reading is", of, *age);
    }
    const Json& keep = list_in(q, "keep");
    if (keep.size() != 2 || !keep[0].is_number() || !keep[1].is_number()) continue;
    for (std::size_t i = 0; i < 2; ++i) {
      f.gauge(name + "_band_" + e.unit, std::string(e.help) + ", as the phase keeps it",
              {{"chamber", chamber}, {"edge", i == 0 ? "low" : "high"}},
              keep[i].get<double>() * e.factor);
    }
  }
}

void add_chamber(Families& f, const Json& chamber) {
  const std::string id = word_in(chamber, "id");
  for (const Json& q : list_in(chamber, "air")) add_quantity(f, id, q);
  for (const Json& a : list_in(chamber, "actuators")) {
    const Labels labels = {
        {"chamber", id}, {"output", word_in(a, "id")}, {"effect", word_in(a, "effect")}};
    f.gauge("tubwarden_output_level_ratio", "What an output is told to do, 0 to 1", labels,
            number_in(a, "level_pct").value_or(0.0) / 100.0);
    f.gauge("tubwarden_output_ready", "Whether an output takes commands", labels,
            word_in(a, "health") == "ready" ? 1 : 0);
    f.gauge("tubwarden_output_starts_last_hour", "Starts within the last hour", labels,
            number_in(a, "starts_last_hour").value_or(0.0));
    if (const auto restarts = number_in(a, "restarts")) {
      f.counter("tubwarden_output_host_restarts_total", "Restarts of the process that holds it",
                labels, *restarts);
    }
  }
}

void add_tub(Families& f, const Json& tub) {
  if (word_in(tub, "phase").empty()) return;
  const Labels labels = {{"tub", word_in(tub, "id")},
                         {"batch", word_in(tub, "batch")},
                         {"phase", word_in(tub, "phase")}};
  f.gauge("tubwarden_tub_phase_seconds", "How long a tub's phase has lasted", labels,
          number_in(tub, "elapsed_s").value_or(0.0));
}

void add_alerts(Families& f, const Json& alerts) {
  std::map<std::string, int> by_rank = {{"now", 0}, {"today", 0}, {"noted", 0}};
  for (const Json& alert : alerts) {
    ++by_rank[word_in(alert, "rank")];
    f.gauge("tubwarden_alert_standing_seconds", "How long an alert stands",
            {{"place", word_in(alert, "place")},
             {"cause", word_in(alert, "cause")},
             {"rank", word_in(alert, "rank")}},
            number_in(alert, "since_s").value_or(0.0));
  }
  for (const auto& [rank, n] : by_rank) {
    f.gauge("tubwarden_alerts", "Alerts that stand", {{"rank", rank}}, n);
  }
}

void add_sheet(Families& f, const SheetCounters& c) {
  f.counter("tubwarden_sheet_requests_total", "Whole requests", {},
            static_cast<double>(c.requests));
  const std::pair<const char*, std::uint64_t> refused[] = {
      {"malformed", c.malformed},  {"too_large", c.too_large}, {"too_slow", c.too_slow},
      {"too_many", c.too_many},    {"foreign", c.foreign},     {"wrong_token", c.wrong_tokens},
      {"locked_out", c.locked_out}};
  for (const auto& [why, n] : refused) {
    f.counter("tubwarden_sheet_refused_total", "What the sheet has refused or cut off",
              {{"why", why}}, static_cast<double>(n));
  }
  f.counter("tubwarden_sheet_live_dropped_total", "Open pages that read too slowly", {},
            static_cast<double>(c.live_dropped));
  f.gauge("tubwarden_sheet_connections", "Connections now", {}, c.connections);
  f.gauge("tubwarden_sheet_live", "Open pages now", {}, c.live);
}

}  // namespace

std::string metrics_text(const std::string& status_json, const SheetCounters& counters) {
  Families f;
  const Json status = Json::parse(status_json, nullptr, false);
  if (status.is_object()) {
    f.gauge("tubwarden_clock_set", "Whether the wall clock can be believed", {},
            number_in(status, "clock_set").value_or(0.0));
    const auto part = [&](const char* name) { return status.value(name, Json::object()); };
    f.gauge("tubwarden_broker_up", "Whether the broker answers", {},
            number_in(part("broker"), "up").value_or(0.0));
    for (const Counted& c : kCounted) {
      if (const auto n = number_in(part(c.part), c.member)) f.counter(c.name, c.help, {}, *n);
    }
    for (const Json& chamber : list_in(status, "chambers")) add_chamber(f, chamber);
    for (const Json& tub : list_in(status, "tubs")) add_tub(f, tub);
    add_alerts(f, list_in(status, "alerts"));
  }
  add_sheet(f, counters);
  return f.text();
}

}  // namespace tubwarden::sheet
