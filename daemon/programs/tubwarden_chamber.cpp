// tubwarden-chamber: a tub that is only computed, for the broker a tub like any other.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>

#include "programs/chamber/play.hpp"
#include "settings/amount.hpp"

int main(int argc, char** argv) {
  namespace fs = std::filesystem;
  using namespace tubwarden;
  const fs::path here = fs::canonical("/proc/self/exe").parent_path();
  PlayOptions options;
  options.config = "/etc/tubwarden";
  options.host = here / "tubwarden-plugin-host";
  options.plugins =
      fs::exists(here / "../plugins") ? here / "../plugins" : here / "../lib/tubwarden/plugins";
  std::string load = "pinning";
  std::string every = "2s";
  CLI::App app{
      "Plays the chambers of a configuration folder by a physical model, in real time on MQTT:\n"
      "says what their sensors would say, and obeys the topics their relays would obey.\n"
      "SIGUSR1 takes the lids off, SIGUSR2 puts them on again.\n"
      "Example: tubwarden-chamber --config config/demo --load pinning --talk"};
  app.add_option("--config", options.config, "folder of the configuration")->capture_default_str();
  app.add_option("--plugins", options.plugins, "folder of the plugins");
  app.add_option("--host", options.host, "the program that loads one plugin");
  app.add_option("--chamber", options.chamber, "the one chamber to play; all without it");
  app.add_option("--load", load, "what stands in it")
      ->check(CLI::IsMember({"empty", "pinning", "flush"}))
      ->capture_default_str();
  app.add_option("--room-temperature", options.room_celsius, "mean of the room's day, C")
      ->check(CLI::Range(-10.0, 45.0));
  app.add_option("--room-humidity", options.room_humidity_pct, "at that temperature, % RH")
      ->check(CLI::Range(1.0, 100.0));
  app.add_option("--seed", options.seed, "of the sensors' noise")->capture_default_str();
  app.add_option("--every", every, "how often each sensor speaks: 200ms..1h")
      ->capture_default_str();
  app.add_flag("--talk", options.talk, "tell the true air on stdout");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : 2;
  }
  const Result<Duration> rhythm = parse_duration(every);
  if (!rhythm || *rhythm < milliseconds(200) || *rhythm > hours(1)) {
    std::fprintf(stderr, "--every: '%s' is not a time between 200ms and 1h\n", every.c_str());
    return 2;
  }
  options.every = *rhythm;
  options.load = *rehearsal::load_named(load);

  Play play(options);
  if (const Outcome started = play.start(); !started) {
    std::fprintf(stderr, "%s\n", started.error().text.c_str());
    return 1;
  }
  play.run();
  return 0;
}
