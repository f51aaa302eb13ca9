#include "bench.hpp"

#include <stdexcept>

namespace bench {

using namespace tubwarden;

namespace {

constexpr const char* kSite = R"(site: cellar
broker:
  url: "mqtt://127.0.0.1:1883"
record: {folder: /var/lib/tubwarden}
control: {socket: /run/tubwarden/control.sock}
room: {temperature: 15 C, humidity: 50 %}
channels:
  - id: phone
    plugin: program
    wiring: {argv: [/bin/true], timeout: 20s}
    ranks: [now]
)";

constexpr const char* kProfile = R"(profile: button
phases:
  - phase: grain
    air_temperature: {keep: [23 C, 25 C]}
  - phase: colonization
    substrate_temperature: {keep: [24 C, 25.5 C], warn: {outside: [18 C, 26 C], on_delay: 15m}}
    humidity: {keep_above: 90 %, warn: {below: 80 %}}
    expect: {from: 14d, to: 21d, late: 30d}
    next: fruiting
  - phase: fruiting
    air_temperature: {keep: [15 C, 18 C], glide: 48h}
    humidity: {keep: [85 %, 90 %], warn: {outside: [78 %, 95 %], on_delay: 10m}}
    co2: {keep_below: 1000 ppm, warn: {above: 1500 ppm, on_delay: 20m}}
    fresh_air: {at_least: {changes: 1, every: 15m}}
    light: {from: "08:00", to: "20:00"}
    settle: {temperature: 6h}
  - phase: empty
)";

constexpr const char* kCloset = R"(chamber: closet
leader: tub-2
net_volume: 600 L
sensors:
  - id: air
    topic: cellar/closet/air
    humidity: {at: /rh}
    temperature: {at: /t, place: air}
    co2: {at: /co2}
  - id: bed
    topic: cellar/closet/bed
    temperature: {unit: F, place: substrate, accuracy: 0.9 F}
)";

constexpr const char* kTub1 = R"(tub: tub-1
batch: B-07
profile: button
phase: colonization
substrate: 5 kg
substrate_ceiling: 26.5 C
air:
  net_volume: 40 L
  sensors:
    - id: air
      topic: cellar/tub-1/air
      humidity: {at: /rh, accuracy: 2 %}
      temperature: {at: /t, place: air}
      co2: {at: /co2}
      time: {at: /at, form: unix_ms}
      gone: {topic: cellar/tub-1/state, says: offline}
      stale_after: 3m
    - id: bed
      topic: cellar/tub-1/bed
      temperature: {unit: F, place: substrate}
  actuators:
    - id: mister
      effect: humidify
      rate: 20 g/h
      driver: mqtt_relay
      wiring: {topic: cellar/tub-1/mister, run: "1", rest: "0"}
      safe: rest
      falls_by_itself_after: 30s
      limits: {shortest_run: 500ms, shortest_rest: 20s, longest_run: 5s, starts_per_hour: 60}
    - id: fan
      effect: fresh_air
      rate: 2 m3/h
      driver: board
      wiring: {line: 17, every: 2s}
      safe: run
      lease: 9s
    - id: mat
      effect: heat
      rate: 15 W
      driver: mqtt_relay
      wiring: {topic: cellar/tub-1/mat, run: "on", rest: "off"}
      safe: rest
      falls_by_itself_after: 60s
)";

constexpr const char* kTub2 = R"(tub: tub-2
batch: B-08
profile: button
phase: colonization
stands_in: closet
)";

}  // namespace

PluginCatalogue catalogue() {
  PluginCatalogue plugins;
  plugins["mqtt_relay"] = {"mqtt_relay",
                           false,
                           true,
                           {{"topic", "topic", "", std::nullopt, "Where the relay listens."},
                            {"run", "text", "", std::nullopt, "The payload that makes it run."},
                            {"rest", "text", "", std::nullopt, "The payload that makes it rest."},
                            {"confirm", "topic", "", "", "Where the relay says how it stands."}}};
  plugins["mqtt_relay"].has_will = true;
  plugins["simulated"] = {"simulated",
                          false,
                          false,
                          {{"file", "text", "", std::nullopt, "The file to append to."}},
                          true};
  plugins["board"] = {"board",
                      false,
                      false,
                      {{"line", "integer", "0..53", std::nullopt, "The number of the line."},
                       {"every", "duration", "100ms..1m", "1s", "How often it looks."},
                       {"gain", "number", "0..1", "1", "How much."},
                       {"active_low", "boolean", "", "false", "Whether low runs it."},
                       {"bias", "text", "up|down", "up", "The pull of the line."}},
                      true};
  plugins["program"] = {"program",
                        true,
                        false,
                        {{"argv", "list", "", std::nullopt, "The program and its arguments."},
                         {"timeout", "duration", "100ms..60s", "20s", "After this it is ended."}}};
  return plugins;
}

Folder::Folder() {
  write("tubwarden.yaml", kSite);
  write("profiles/button.yaml", kProfile);
  write("chambers/closet.yaml", kCloset);
  write("tubs/tub-1.yaml", kTub1);
  write("tubs/tub-2.yaml", kTub2);
}

void Folder::write(const std::string& file, const std::string& text) { folder_.write(file, text); }

std::string Folder::text(const std::string& file) const {
  return parts::read_file(folder_.path() / file);
}

void Folder::spoil(const std::string& file, const std::string& what, const std::string& with) {
  std::string now = text(file);
  const std::size_t at = now.find(what);
  if (at == std::string::npos || now.find(what, at + 1) != std::string::npos) {
    throw std::runtime_error("not exactly once in " + file + ": " + what);
  }
  write(file, now.replace(at, what.size(), with));
}

Loaded Folder::load() const { return load_folder(folder_.path(), catalogue()); }

std::vector<std::string> told(const Loaded& loaded) {
  std::vector<std::string> lines;
  for (const Finding& f : loaded.findings) lines.push_back(f.told());
  return lines;
}

}  // namespace bench
