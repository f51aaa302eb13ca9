// tubwardend: holds each tub in the band of its phase. See docs/handbook.md.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>

#include "programs/tubwardend/daemon.hpp"
#include "shell/log/log.hpp"

int main(int argc, char** argv) {
  namespace fs = std::filesystem;
  using namespace tubwarden;
  const fs::path here = fs::canonical("/proc/self/exe").parent_path();
  DaemonOptions options;
  options.config = "/etc/tubwarden";
  options.host = here / "tubwarden-plugin-host";
  // Built beside the programs' folder, or installed below lib.
  options.plugins =
      fs::exists(here / "../plugins") ? here / "../plugins" : here / "../lib/tubwarden/plugins";
  bool verbose = false;
  CLI::App app{
      "Holds each tub in the band of its phase.\n"
      "Example: tubwardend --config /etc/tubwarden\n"
      "         tubwardend --config /etc/tubwarden --dry"};
  app.add_option("--config", options.config, "folder of the configuration")->capture_default_str();
  app.add_option("--plugins", options.plugins, "folder of the plugins");
  app.add_option("--host", options.host, "the program that loads one plugin");
  app.add_flag("--dry", options.dry,
               "decide, and only say in the log what would be switched; nothing is published, and "
               "the record is a copy that is thrown away");
  app.add_flag("--verbose", verbose, "log more");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : 2;
  }

  log::start(verbose ? log::Level::debug : log::Level::info);
  int status = 0;
  {
    Daemon daemon(options);
    if (const Outcome started = daemon.start(); started.ok()) {
      daemon.run();
    } else {
      log::error(started.error().text);
      status = 1;
    }
  }
  log::stop();
  return status;
}
