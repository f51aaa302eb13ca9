#include "programs/cli/words.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <sstream>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "programs/cli/words_air.hpp"
#include "programs/cli/words_alerts.hpp"
#include "programs/cli/words_grow.hpp"
#include "programs/cli/words_kitchen.hpp"
#include "programs/cli/words_paper.hpp"
#include "programs/cli/words_setup.hpp"
#include "programs/cli/words_sheet.hpp"

namespace tubwarden::cli {
namespace {

/// The parser and the places it writes to; both live as long as one understand().
struct Parser {
  explicit Parser(const Defaults& defaults);
  CLI::App* add(CLI::App& to, const std::string& name, const std::string& does,
                const std::string& example);
  void add_questions();
  void add_acts();
  void add_hands();
  void add_drill();
  void add_record();
  void add_outputs();
  void add_check(const Defaults& defaults);

  CLI::App app{"Asks and tells the warden of the tubs.", "tubwarden"};
  Command command;
  AirWords air;
  SetupWords setup;
  KitchenWords kitchen;
  PaperWords paper;
  GrowWords grow;
  SheetWords sheet;
  AlertWords alerts;
  CheckFolder check;
  Drill drill;
  std::vector<std::string> cuts;
  bool watch = false;
  std::string tub, actuator, phase, note, batch, output, lasting, level;
  std::vector<std::string> text;
};

Parser::Parser(const Defaults& defaults)
    : air(command, defaults,
          [this](const std::string& name, const std::string& does, const std::string& example) {
            return add(app, name, does, example);
          }),
      setup(command, defaults,
            [this](const std::string& name, const std::string& does, const std::string& example) {
              return add(app, name, does, example);
            }),
      kitchen(command, [this](CLI::App& to, const std::string& name, const std::string& does,
                              const std::string& example) { return add(to, name, does, example); }),
      paper(command, defaults,
            [this](const std::string& name, const std::string& does, const std::string& example) {
              return add(app, name, does, example);
            }),
      grow(command, defaults,
           [this](CLI::App& to, const std::string& name, const std::string& does,
                  const std::string& example) { return add(to, name, does, example); }),
      sheet(command, [this](CLI::App& to, const std::string& name, const std::string& does,
                            const std::string& example) { return add(to, name, does, example); }),
      alerts(command, defaults,
             [this](CLI::App& to, const std::string& name, const std::string& does,
                    const std::string& example) { return add(to, name, does, example); }) {
  command.socket = defaults.socket;
  command.usual_socket = defaults.socket;
  app.fallthrough();
  app.require_subcommand(1);
  app.set_help_flag("-h,--help", "print this and end");
  app.get_formatter()->column_width(26);
  app.get_formatter()->label("REQUIRED", "");
  app.get_formatter()->label("TEXT", "");
  app.get_formatter()->label("Positionals", "Words");
  app.get_formatter()->label("SUBCOMMAND", "COMMAND");
  app.get_formatter()->label("SUBCOMMANDS", "COMMAND");
  app.footer(
      "Example:\n  tubwarden status --watch\n\n"
      "Each command has its own --help with an example. The socket is that of --socket,\n"
      "else of TUBWARDEN_SOCKET, else /run/tubwarden/control.sock.\n"
      "Exit status: 0 done, 1 could not be done, 2 wrong words.");
  app.add_option("--socket", command.socket, "the daemon's control socket")->type_name("PATH");
  app.add_flag("--json", command.json, "print the answer as JSON");
  add_questions();
  add_acts();
  grow.add_asked(app);
  grow.add_culture(app);
  grow.add_sterilise(app);
  grow.add_jar(app);
  grow.add_substrate(app);
  grow.add_beds(app);
  add_hands();
  add_record();
  paper.add_report();
  paper.add_labels();
  paper.add_copies();
  add_outputs();
  add_check(defaults);
  setup.add_init();
  setup.add_listen();
  setup.add_rehearse();
  kitchen.add_kitchen(app);
  sheet.add_sheet(app);
}

CLI::App* Parser::add(CLI::App& to, const std::string& name, const std::string& does,
                      const std::string& example) {
  CLI::App* sub = to.add_subcommand(name, does);
  sub->add_flag("--json", command.json, "print the answer as JSON");
  sub->group("Commands");
  sub->footer("Example:\n  " + example + "\n");
  return sub;
}

void Parser::add_questions() {
  CLI::App* status = add(app, "status", "How every tub is doing, what is wrong first.",
                         "tubwarden status --watch");
  status->add_flag("--watch", watch, "draw it anew each second until Ctrl-C");
  status->callback([this] { command.wanted = Ask{"status", "{}", show_status, watch}; });
  air.add_why();
  air.add_history();
}

void Parser::add_acts() {
  CLI::App* to = add(app, "phase", "Says which phase a tub is in.",
                     "tubwarden phase tub-1 casing --note \"spawn is through, 14 days\"");
  to->add_option("TUB", tub, "the tub's name")->required();
  to->add_option("PHASE", phase, "a phase of its profile; next: by its plan; or empty")->required();
  to->add_option("--note", note, "words for the record")->type_name("TEXT");
  to->callback([this] {
    command.wanted =
        Ask{"phase", dumped({{"tub", tub}, {"phase", phase}, {"note", note}}), show_done};
  });

  CLI::App* noted = add(app, "note", "A line of yours for the record.",
                        "tubwarden note tub-1 \"first pins at the left edge\"");
  noted->add_option("NAME", tub, "a tub, jar, culture, run, substrate or batch")->required();
  noted->add_option("WORDS", text, "what you saw or did")->required();
  noted->callback([this] {
    const std::string words = fmt::format("{}", fmt::join(text, " "));
    command.wanted = Ask{"note", dumped({{"tub", tub}, {"text", words}}), show_done};
  });
  air.add_move();
  air.add_water();
  air.add_refill();
}

void Parser::add_hands() {
  CLI::App* attend = add(app, "attend", "Hands in the tub: outputs rest, alerts are quiet.",
                         "tubwarden attend tub-1 20m\n  tubwarden attend tub-1 end");
  attend->add_option("TUB", tub, "the tub's name")->required();
  attend->add_option("TIME", lasting, "how long, 10s to 4h; or end")->required();
  attend->callback([this] {
    command.wanted = Ask{"attend", dumped({{"tub", tub}, {"for", lasting}}), show_done};
  });

  CLI::App* keep = add(app, "keep-at", "Holds one output at rest or running for a while.",
                       "tubwarden keep-at tub-1 fan rest 30m\n  tubwarden keep-at tub-1 fan end");
  keep->add_option("TUB", tub, "the tub's name")->required();
  keep->add_option("ACTUATOR", actuator, "one of its actuators")->required();
  keep->add_option("LEVEL", level, "rest, run or end")->required();
  keep->add_option("TIME", lasting, "how long, 10s to 1d");
  keep->callback([this] {
    if (level != "end" && lasting.empty()) {
      throw CLI::ValidationError("TIME", "a hold has an end; say how long, like 30m");
    }
    command.wanted =
        Ask{"keep_at",
            dumped({{"tub", tub}, {"actuator", actuator}, {"level", level}, {"for", lasting}}),
            show_done};
  });

  CLI::App* tried = add(app, "try", "Runs one output once, and says what it moved.",
                        "tubwarden try tub-1 mister 3s");
  tried->add_option("TUB", tub, "the tub's name")->required();
  tried->add_option("ACTUATOR", actuator, "one of its actuators")->required();
  tried->add_option("TIME", lasting, "how long, within its limits")->required();
  tried->callback([this] { command.wanted = TryOutput{tub, actuator, lasting}; });
  add_drill();
}

void Parser::add_drill() {
  CLI::App* sub = add(app, "drill", "Cuts parts off on purpose: do the outputs fall safe?",
                      "tubwarden drill tub-1\n  tubwarden drill tub-1 fan --cut host --cut daemon");
  sub->add_option("TUB", drill.tub, "the tub's name")->required();
  sub->add_option("ACTUATOR", drill.actuator, "one of its actuators; each without");
  sub->add_option("--cut", cuts, "host, daemon or broker; all three without")
      ->type_name("PART")
      ->allow_extra_args(false)
      ->check(CLI::IsMember({"host", "daemon", "broker"}));
  sub->add_option("--config", drill.config, "the folder whose broker it is; the daemon's without")
      ->type_name("DIR");
  sub->add_flag("--yes", drill.yes, "ask nobody; what nothing confirms stays open");
  sub->callback([this] {
    if (!cuts.empty()) drill.cuts.clear();
    for (const std::string& cut : cuts) {
      drill.cuts.push_back(cut == "host" ? Cut::host : cut == "daemon" ? Cut::daemon : Cut::broker);
    }
    command.wanted = drill;
  });
}

void Parser::add_record() {
  CLI::App* batches = add(app, "batch", "The record of a batch.", "tubwarden batch show B-07");
  batches->require_subcommand(1);
  CLI::App* show =
      add(*batches, "show", "The record of one batch as a time line.", "tubwarden batch show B-07");
  show->add_option("BATCH", batch, "the batch's name")->required();
  show->callback([this] { command.wanted = Ask{"batch", dumped({{"batch", batch}}), show_batch}; });
  CLI::App* climate = add(*batches, "climate", "The climate that each phase of a batch kept.",
                          "tubwarden batch climate B-07");
  climate->add_option("BATCH", batch, "the batch's name")->required();
  climate->callback([this] {
    command.wanted = Ask{"kept", dumped({{"batch", batch}}), show_kept};
  });
  add(*batches, "list", "All batches of the record.", "tubwarden batch list")->callback([this] {
    command.wanted = Ask{"batches", "{}", show_batches};
  });
  alerts.add_alerts(app);
}

void Parser::add_outputs() {
  CLI::App* outputs = add(app, "outputs", "Every output and its driver.",
                          "tubwarden outputs\n  tubwarden outputs release tub-1 mister");
  outputs->callback([this, outputs] {
    if (outputs->get_subcommands().empty()) {
      command.wanted = Ask{"outputs", "{}", show_outputs};
    }
  });
  CLI::App* release = add(*outputs, "release", "Starts an output again that has failed safe.",
                          "tubwarden outputs release tub-1 mister");
  release->add_option("TUB", tub, "a tub that stands in its air, or the chamber")->required();
  release->add_option("ID", output, "the output's name")->required();
  release->callback([this] {
    command.wanted = Ask{"release", dumped({{"tub", tub}, {"id", output}}), show_done};
  });
}

void Parser::add_check(const Defaults& defaults) {
  check.folder = kInstalledFolder;
  check.plugins = defaults.plugins;
  check.host = defaults.host;
  CLI::App* sub = add(app, "check", "Every error of a configuration folder; no daemon.",
                      "tubwarden check /etc/tubwarden");
  sub->add_option("DIR", check.folder, "the folder with tubwarden.yaml; /etc/tubwarden without");
  sub->add_option("--plugins", check.plugins, "the folder of the plugins")->type_name("DIR");
  sub->add_option("--host", check.host, "the program that describes a plugin")->type_name("PATH");
  sub->callback([this] { command.wanted = check; });
}

/// The innermost command that was understood before the words went wrong.
const CLI::App* innermost(const CLI::App& app) {
  const CLI::App* at = &app;
  while (!at->get_subcommands().empty()) at = at->get_subcommands().back();
  return at;
}

std::string full_name(const CLI::App* app) {
  return app->get_parent() ? full_name(app->get_parent()) + " " + app->get_name() : app->get_name();
}

std::vector<std::string> known_words(const CLI::App& app, bool options) {
  std::vector<std::string> known;
  if (!options) {
    for (const CLI::App* sub : app.get_subcommands([](const CLI::App*) { return true; })) {
      known.push_back(sub->get_name());
    }
    return known;
  }
  for (const CLI::App* at = &app; at; at = at->get_parent()) {
    for (const CLI::Option* option : at->get_options()) {
      for (const std::string& name : option->get_lnames()) known.push_back("--" + name);
    }
  }
  return known;
}

std::string like(const std::string& word, const std::vector<std::string>& known) {
  const std::vector<std::string_view> views(known.begin(), known.end());
  const auto near = nearest(word, views);
  return near ? fmt::format("; the nearest is '{}'", *near) : "";
}

/// One sentence with the way out.
std::string wrong_words(const CLI::App& app, const CLI::ParseError& error) {
  const CLI::App* at = innermost(app);
  const std::string help = fmt::format("see: {} --help", full_name(at));
  const std::vector<std::string> left = app.remaining(true);
  const std::vector<std::string> commands = known_words(*at, false);
  if (!left.empty() && left[0].rfind("-", 0) == 0) {
    return fmt::format("{} has no option '{}'{}; {}", full_name(at), left[0],
                       like(left[0], known_words(*at, true)), help);
  }
  if (!left.empty() && !commands.empty()) {
    return fmt::format("{} has no command '{}'{}; there are: {}", full_name(at), left[0],
                       like(left[0], commands), fmt::join(commands, ", "));
  }
  if (!left.empty()) {
    return fmt::format("{} has no use for '{}'; {}", full_name(at), left[0], help);
  }
  if (error.get_name() == "RequiredError" &&
      (at == &app || (at->get_require_subcommand_min() > 0 && at->get_subcommands().empty()))) {
    return fmt::format("{} needs a command; there are: {}", full_name(at),
                       fmt::join(commands, ", "));
  }
  return fmt::format("{}: {}; {}", full_name(at), error.what(), help);
}

}  // namespace

Command understand(const std::vector<std::string>& words, const Defaults& defaults) {
  Parser parser(defaults);
  try {
    parser.app.parse(std::vector<std::string>(words.rbegin(), words.rend()));
    return parser.command;
  } catch (const CLI::Success& asked) {
    std::ostringstream out, err;
    parser.app.exit(asked, out, err);
    std::string help = out.str();
    while (help.ends_with('\n')) help.pop_back();
    for (std::size_t at = 0; (at = help.find("\n\n\n", at)) != std::string::npos;)
      help.erase(at, 1);
    parser.command.wanted = Told{0, help + "\n"};
  } catch (const CLI::ParseError& error) {
    parser.command.wanted = Told{2, wrong_words(parser.app, error)};
  }
  return parser.command;
}

}  // namespace tubwarden::cli
