#include "rig.hpp"

#include <signal.h>

#include <cmath>
#include <stdexcept>

namespace rig {

Rig::Rig() : broker_(std::make_unique<parts::Mosquitto>()) {
  socket_ = (folder_.path() / "control.sock").string();
  write_site();
  write_profile();
}
Rig::~Rig() = default;

void Rig::write_site(const std::string& extra) {
  folder_.write(config("tubwarden.yaml"),
                "site: shed\nbroker: {url: \"" + broker_->url() + "\"}\nrecord: {folder: \"" +
                    (folder_.path() / "record").string() + "\"}\ncontrol: {socket: \"" + socket_ +
                    "\"}\nroom: {temperature: 15 C, humidity: 50 %}\n" + extra);
}

void Rig::write_profile(const std::string& text) {
  folder_.write(config("profiles/button.yaml"), text);
}

std::string Rig::default_profile() {
  return R"(profile: button
phases:
  - phase: colonization
    substrate_temperature: {keep: [24 C, 25.5 C], warn: {outside: [18 C, 26 C], on_delay: 15m}}
    humidity: {keep_above: 90 %}
    next: casing
  - phase: casing
    substrate_temperature: {keep: [24 C, 26 C]}
    humidity: {keep: [90 %, 96 %]}
  - phase: fruiting
    substrate_temperature: {keep: [16 C, 18 C]}
    humidity: {keep: [85 %, 90 %], warn: {outside: [70 %, 97 %], on_delay: 1s}}
    settle: {temperature: 1s, other: 1s}
  - phase: empty
)";
}

/// By hysteresis, so that a test can foretell each run; portions have tests of their own.
std::string Rig::text_of(const TubText& tub) {
  const std::string at = "shed/" + tub.id;
  return "tub: " + tub.id + "\nbatch: " + tub.batch + "\nprofile: button\nphase: " + tub.phase +
         "\nsubstrate: 5 kg\n" + tub.extra +
         "air:\n  net_volume: 40 L\n  control: hysteresis\n  sensors:\n"
         "    - id: air\n      "
         "topic: " +
         at +
         "/air\n      humidity: {at: /rh}\n      temperature: {at: /t, place: air}\n      "
         "stale_after: 2m\n    - {id: bed, topic: " +
         at +
         "/bed, temperature: {unit: F, place: substrate}, stale_after: 5m}\n  actuators:\n"
         "    - id: mister\n      effect: humidify\n      rate: 40 g/h\n      driver: mqtt_relay\n"
         "      wiring: {topic: " +
         at +
         "/mister, run: \"1\", rest: \"0\"}\n      safe: rest\n      lease: 3s\n      "
         "falls_by_itself_after: never\n      limits: {shortest_run: " +
         tub.shortest_run + ", shortest_rest: " + tub.shortest_rest +
         ", longest_run: 60s, starts_per_hour: 60}\n"
         "    - id: mat\n      effect: heat\n      rate: 15 W\n      driver: mqtt_relay\n      "
         "wiring: "
         "{topic: " +
         at +
         "/mat, run: \"on\", rest: \"off\"}\n      safe: rest\n      lease: 3s\n      "
         "falls_by_itself_after: 10s\n      limits: {shortest_run: 100ms, shortest_rest: " +
         tub.shortest_rest + "}\n";
}

void Rig::start_without_waiting() {
  std::vector<std::string> words = started_by;
  words.insert(words.end(),
               {std::string(TUBWARDEN_BIN_DIR) + "/tubwardend", "--config",
                (folder_.path() / "config").string(), "--plugins", TUBWARDEN_PLUGIN_DIR});
  daemon_ = std::make_unique<parts::Process>(words, parts::Process::Options{environment, false});
}

void Rig::start() {
  start_without_waiting();
  const bool up = wait(
      [&] {
        const auto s = try_status();
        if (!s || !(*s)["broker"]["up"].get<bool>()) return false;
        for (const json& c : (*s)["chambers"]) {
          for (const json& a : c["actuators"]) {
            if (a["health"] != "ready") return false;
          }
        }
        return true;
      },
      20s);
  if (!up) throw std::runtime_error("the daemon did not come up:\n" + log());
}

int Rig::stop() {
  daemon_->signal(SIGTERM);
  const auto status = daemon_->wait(10s);
  if (!status) throw std::runtime_error("the daemon did not end:\n" + log());
  return *status;
}

parts::Ran Rig::cli(std::vector<std::string> words) {
  std::vector<std::string> argv = {std::string(TUBWARDEN_BIN_DIR) + "/tubwarden", "--socket",
                                   socket_};
  argv.insert(argv.end(), words.begin(), words.end());
  return parts::run(argv);
}

json Rig::ask(std::vector<std::string> words) {
  words.push_back("--json");
  const parts::Ran ran = cli(words);
  if (ran.status != 0) {
    throw std::runtime_error("tubwarden " + words[0] + " failed: " + ran.err + "\n" + log());
  }
  return json::parse(ran.out);
}

std::optional<json> Rig::try_status() {
  const parts::Ran ran = cli({"status", "--json"});
  if (ran.status != 0) return std::nullopt;
  return json::parse(ran.out);
}

json Rig::chamber(const std::string& id) {
  for (const json& c : json(status()["chambers"])) {
    if (c["id"] == id) return c;
  }
  throw std::runtime_error("no chamber " + id);
}

json Rig::tub(const std::string& id) {
  for (const json& t : json(status()["tubs"])) {
    if (t["id"] == id) return t;
  }
  throw std::runtime_error("no tub " + id);
}

json Rig::actuator(const std::string& chamber_id, const std::string& id) {
  for (const json& a : json(chamber(chamber_id)["actuators"])) {
    if (a["id"] == id) return a;
  }
  throw std::runtime_error("no actuator " + id);
}

std::vector<std::string> Rig::alert_causes(const std::string& place) {
  std::vector<std::string> causes;
  for (const json& a : json(status()["alerts"])) {
    if (a["place"] == place) causes.push_back(a["cause"]);
  }
  return causes;
}

json Rig::timeline(const std::string& batch) { return ask({"batch", "show", batch})["rows"]; }

void Rig::air(const std::string& tub_id, double rh, double t) {
  publish("shed/" + tub_id + "/air", json{{"rh", rh}, {"t", t}}.dump());
  const bool taken = wait([&] {
    for (const json& q : json(chamber(tub_id)["air"])) {
      if (q["quantity"] == "humidity" && q["value"].is_number() &&
          std::abs(q["value"].get<double>() - rh) < 1e-6) {
        return true;
      }
    }
    return false;
  });
  if (!taken) throw std::runtime_error("the reading was not taken:\n" + log());
}

std::string Rig::log() const { return daemon_ ? daemon_->err() : ""; }

std::vector<std::string> payloads(const parts::Listener& listener, const std::string& topic) {
  std::vector<std::string> all;
  for (const parts::Heard& h : listener.heard(topic)) all.push_back(h.payload);
  return all;
}

}  // namespace rig
