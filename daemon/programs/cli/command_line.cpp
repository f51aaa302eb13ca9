#include "programs/cli/command_line.hpp"

#include <signal.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <optional>

#include "base/text.hpp"
#include "programs/cli/render.hpp"
#include "settings/settings.hpp"
#include "shell/control/control_client.hpp"
#include "shell/hosts/describe.hpp"

namespace tubwarden::cli {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr const char* kSocket = "/run/tubwarden/control.sock";
/// A little longer than the daemon takes to say "done, not yet on disk".
constexpr Duration kAnswerWithin = seconds(8);
constexpr int kDone = 0, kNotDone = 1, kWrongWords = 2;

volatile sig_atomic_t interrupted = 0;

struct Options {
  std::string socket, plugins, host, folder, tub, actuator, phase, note, batch, text, id;
  bool json = false, watch = false;
};

Look look_of_terminal() {
  Look look;
  const char* no_colour = std::getenv("NO_COLOR");
  look.colour = ::isatty(STDOUT_FILENO) == 1 && !(no_colour && *no_colour);
  winsize size{};
  if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col >= 40)
    look.columns = size.ws_col;
  return look;
}

int fail(const std::string& text, int status) {
  std::fprintf(stderr, "tubwarden: %s\n", text.c_str());
  return status;
}

using Render = std::function<std::string(const std::string&, const Look&)>;

/// Asks once and prints; the daemon's "no" is one sentence on stderr.
int ask(const Options& o, const std::string& what, const Json& args, const Render& render) {
  const auto answer = ask_daemon(o.socket, what, args.dump(), kAnswerWithin);
  if (!answer.ok()) return fail(answer.error().text, kNotDone);
  const std::string text = o.json ? pretty(*answer) : render(*answer, look_of_terminal());
  std::fwrite(text.data(), 1, text.size(), stdout);
  std::fflush(stdout);
  return kDone;
}

int watch(const Options& o) {
  struct sigaction action {};
  action.sa_handler = [](int) { interrupted = 1; };
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
  const bool terminal = ::isatty(STDOUT_FILENO) == 1;
  int status = kDone;
  while (interrupted == 0) {
    if (terminal) std::fputs("\033[H\033[J", stdout);
    status = ask(o, "status", Json::object(), render_status);
    if (status != kDone) break;
    if (!terminal) std::fputs("\n", stdout);
    ::usleep(1000 * 1000);  // a signal ends it early
  }
  return status;
}

int check(const Options& o) {
  std::vector<std::string> problems;
  const PluginCatalogue plugins = describe_all(o.plugins, o.host, &problems);
  for (const std::string& problem : problems) fail(problem, kNotDone);
  const Loaded loaded = load_folder(o.folder, plugins);
  if (o.json) {
    Json findings = Json::array();
    for (const Finding& f : loaded.findings) {
      findings.push_back({{"severity", f.severity == Severity::error ? "error" : "warning"},
                          {"file", f.file},
                          {"line", f.line},
                          {"column", f.column},
                          {"text", f.text}});
    }
    std::puts(Json{{"findings", findings}, {"errors", loaded.has_errors()}}.dump(2).c_str());
  } else {
    std::fputs(check_report(loaded).c_str(), stdout);
  }
  return loaded.has_errors() ? kNotDone : kDone;
}

void default_places(Options& o) {
  std::error_code code;
  const fs::path here = fs::canonical("/proc/self/exe", code).parent_path();
  const bool built = fs::exists(here / "tubwarden-plugin-host", code);
  o.host =
      built ? here / "tubwarden-plugin-host" : here / "../libexec/tubwarden/tubwarden-plugin-host";
  o.plugins = built ? here / "../plugins" : here / "../lib/tubwarden";
  const char* given = std::getenv("TUBWARDEN_SOCKET");
  o.socket = given && *given ? given : kSocket;
}

/// A command with its example, and --json like every other.
CLI::App* command(CLI::App& app, Options& o, const std::string& name, const std::string& help,
                  const std::string& example) {
  CLI::App* sub = app.add_subcommand(name, help);
  sub->footer("Example: tubwarden " + example);
  sub->add_flag("--json", o.json, "the answer as JSON");
  return sub;
}

/// The words that stand where a command belongs: CLI11 names none when it does not know one.
std::optional<std::string> unknown_command(const CLI::App& app, int argc, char** argv) {
  std::vector<std::string> names;
  for (const CLI::App* sub : app.get_subcommands([](const CLI::App*) { return true; })) {
    names.push_back(sub->get_name());
  }
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    if (word == "--socket") ++i;
    if (word.starts_with("-")) continue;
    if (word == "--socket") continue;
    if (std::find(names.begin(), names.end(), word) != names.end()) return std::nullopt;
    const std::vector<std::string_view> known(names.begin(), names.end());
    const auto near = nearest(word, known);
    return "no command is called '" + word + "'" +
           (near ? "; nearest is '" + *near + "'" : "; tubwarden --help lists them");
  }
  return std::nullopt;
}

}  // namespace

int command_line(int argc, char** argv) {
  Options o;
  default_places(o);
  CLI::App app{"Asks and tells the daemon that holds the tubs."};
  app.name("tubwarden");
  app.require_subcommand(1);
  app.add_option("--socket", o.socket, "the daemon's control socket (or TUBWARDEN_SOCKET)");
  std::function<int()> perform;
  const auto then = [&](CLI::App* sub, std::function<int()> work) {
    sub->callback([&perform, work] { perform = work; });
  };

  CLI::App* c =
      command(app, o, "check", "reads a configuration folder and says what is wrong in it",
              "check /etc/tubwarden");
  c->add_option("DIR", o.folder, "the folder with tubwarden.yaml")->required();
  c->add_option("--plugins", o.plugins, "folder of the plugins");
  c->add_option("--host", o.host, "the program that loads one plugin");
  then(c, [&] { return check(o); });

  c = command(app, o, "status", "how the tubs stand, and why", "status --watch");
  c->add_flag("--watch", o.watch, "again each second, until Ctrl-C");
  then(c, [&] { return o.watch ? watch(o) : ask(o, "status", Json::object(), render_status); });

  c = command(app, o, "why", "why each actuator of a tub does what it does", "why tub-1 mister");
  c->add_option("TUB", o.tub, "the tub")->required();
  c->add_option("ACTUATOR", o.actuator, "one of its actuators");
  then(c, [&] { return ask(o, "why", {{"tub", o.tub}, {"actuator", o.actuator}}, render_why); });

  const Render told = [](const std::string& json, const Look&) { return render_text(json); };
  c = command(app, o, "phase", "changes a tub's phase; the first time, opens its batch",
              "phase tub-1 fruiting --note \"pins all over\"");
  c->add_option("TUB", o.tub, "the tub")->required();
  c->add_option("PHASE", o.phase, "the phase of its profile")->required();
  c->add_option("--note", o.note, "a word for the record");
  then(c, [&] {
    return ask(o, "phase", {{"tub", o.tub}, {"phase", o.phase}, {"note", o.note}}, told);
  });

  c = command(app, o, "note", "adds a note to the batch in a tub",
              "note tub-1 \"casing looks dry\"");
  c->add_option("TUB", o.tub, "the tub")->required();
  c->add_option("TEXT", o.text, "the note")->required();
  then(c, [&] { return ask(o, "note", {{"tub", o.tub}, {"text", o.text}}, told); });

  c = command(app, o, "batch", "the record of a batch, or the batches there are",
              "batch show B-07");
  CLI::App* show = command(*c, o, "show", "the batch as a time line", "batch show B-07");
  show->add_option("BATCH", o.batch, "the batch")->required();
  then(show, [&] { return ask(o, "batch", {{"batch", o.batch}}, render_rows); });
  then(command(*c, o, "list", "all batches", "batch list"),
       [&] { return ask(o, "batches", Json::object(), render_rows); });
  c->require_subcommand(1);

  then(command(app, o, "alerts", "the alerts that stand", "alerts"),
       [&] { return ask(o, "alerts", Json::object(), render_alerts); });

  c = command(app, o, "outputs", "the outputs, their hosts and leases",
              "outputs release tub-1 mister");
  CLI::App* release = command(*c, o, "release", "acknowledges an output that has failed safe",
                              "outputs release tub-1 mister");
  release->add_option("TUB", o.tub, "the tub")->required();
  release->add_option("ID", o.id, "the actuator")->required();
  then(c, [&] { return ask(o, "outputs", Json::object(), render_outputs); });
  then(release, [&] { return ask(o, "release", {{"tub", o.tub}, {"id", o.id}}, told); });

  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp& help) {
    return app.exit(help);
  } catch (const CLI::ParseError& error) {
    if (const auto unknown = unknown_command(app, argc, argv)) return fail(*unknown, kWrongWords);
    return fail(std::string(error.what()) + " (--help shows how)", kWrongWords);
  }
  return perform();
}

}  // namespace tubwarden::cli
