#include "programs/cli/words_setup.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "settings/amount.hpp"

namespace tubwarden::cli {
namespace {

constexpr Duration kListenLeast = seconds(1);
constexpr Duration kListenMost = hours(1);
constexpr int kRehearseDaysMost = 400;
constexpr Duration kFitLeast = hours(2);
constexpr Duration kFitMost = hours(7 * 24);

const char* kind_word(AnswerKind kind) {
  switch (kind) {
    case AnswerKind::id:
      return "NAME";
    case AnswerKind::topic:
      return "TOPIC";
    case AnswerKind::pointer:
      return "PLACE";
    case AnswerKind::path:
      return "PATH";
    case AnswerKind::payload:
      return "PAYLOAD";
    case AnswerKind::words:
      return "WORDS";
    case AnswerKind::url:
      return "URL";
    case AnswerKind::word:
      return "WORD";
    case AnswerKind::amount:
      return "AMOUNT";
    case AnswerKind::fall:
      return "TIME";
  }
  return "";
}

}  // namespace

void ask_broker(CLI::App& sub, BrokerChoice& choice) {
  sub.add_option("--broker", choice.broker, "its address; of --config, or mqtt://127.0.0.1:1883")
      ->type_name("URL");
  sub.add_option("--config", choice.config, "the folder whose broker it is")->type_name("DIR");
  sub.add_option("--user-file", choice.user_file, "two lines: name and password")
      ->type_name("PATH");
  sub.add_option("--ca-file", choice.ca_file, "PEM of who signed the broker's certificate")
      ->type_name("PATH");
  sub.add_option("--cert-file", choice.cert_file, "PEM of our own certificate")->type_name("PATH");
  sub.add_option("--key-file", choice.key_file, "PEM of its key")->type_name("PATH");
}

SetupWords::SetupWords(Command& command, const Defaults& defaults, Add add)
    : command_(command), defaults_(defaults), add_(std::move(add)) {
  init_.folder = kInstalledFolder;
  init_.plugins = defaults.plugins;
  init_.host = defaults.host;
  rehearse_.folder = kInstalledFolder;
  rehearse_.plugins = defaults.plugins;
  rehearse_.host = defaults.host;
  rehearse_.charts = TUBWARDEN_CHARTS;
}

void SetupWords::add_init() {
  CLI::App* sub =
      add_("init", "Writes the configuration of one tub, by your answers.",
           "tubwarden init\n  tubwarden init --yes --tub tub-2 --net-volume \"60 L\" "
           "--phase pinning\n\nOn a terminal it asks for all that is not given. It "
           "never writes over a file.\nWhere a configuration is, it adds the tub to it.");
  sub->add_option("FOLDER", init_.folder, "where; /etc/tubwarden without");
  sub->add_flag("--yes", init_.yes, "ask nothing: defaults for all that is not given");
  for (const InitQuestion& question : init_questions()) {
    const std::string fallback(question.fallback);
    const bool told = fallback != "none" && fallback.find('{') == std::string::npos;
    const std::string help =
        fmt::format("{}{}", question.help, told ? fmt::format(" [{}]", fallback) : "");
    sub->add_option_function<std::string>(
           "--" + std::string(question.name),
           [this, name = std::string(question.name)](const std::string& given) {
             init_.given[name] = given;
           },
           help)
        ->type_name(kind_word(question.kind))
        ->group(std::string(title_of(question.part)))
        ->check([&question](const std::string& given) {
          return wrong_answer(question, given, {}).value_or("");
        });
  }
  sub->add_option("--plugins", init_.plugins, "the folder of the plugins")->type_name("DIR");
  sub->callback([this, sub] {
    init_.socket_given = sub->get_parent()->get_option("--socket")->count() > 0;
    command_.wanted = init_;
  });
}

void SetupWords::add_listen() {
  CLI::App* sub = add_("listen", "The broker's topics, and sensor lines to read them.",
                       "tubwarden listen --for 1m\n  tubwarden listen --config /etc/tubwarden "
                       "--under cellar");
  ask_broker(*sub, listen_);
  sub->add_option_function<std::string>(
         "--for", [this](const std::string& given) { listen_.length = *parse_duration(given); },
         "how long, 1s to 1h; 30s without")
      ->type_name("TIME")
      ->check([](const std::string& given) {
        const auto length = parse_duration(given);
        const bool fits = length.ok() && *length >= kListenLeast && *length <= kListenMost;
        return fits ? std::string() : "'" + given + "' is no time from 1s to 1h, like 30s or 5m";
      });
  sub->add_option("--under", listen_.under, "only topics under this one")->type_name("TOPIC");
  sub->add_option_function<std::string>(
         "--place",
         [this](const std::string& given) {
           listen_.place = given == "air" ? GuessedPlace::air : GuessedPlace::substrate;
         },
         "where thermometers stand whose name says nothing")
      ->type_name("PLACE")
      ->check(CLI::IsMember({"air", "substrate"}));
  sub->callback([this] { command_.wanted = listen_; });
}

void SetupWords::add_rehearse() {
  CLI::App* sub = add_("rehearse", "Plays a folder against a model of its tubs; no daemon.",
                       "tubwarden rehearse /etc/tubwarden --days 60\n  tubwarden rehearse DIR "
                       "--from colonization --against hysteresis\n  tubwarden rehearse DIR --fit "
                       "--history 2d\n\nWith --fit nothing is played: the model's figures are "
                       "found in what the tubs did,\nasked of the daemon or, where none runs, read "
                       "from the record's folder.");
  sub->add_option("DIR", rehearse_.folder,
                  "the folder with tubwarden.yaml; /etc/tubwarden without");
  sub->add_option_function<int>(
         "--days", [this](int days) { rehearse_.length = hours(24) * days; },
         "how long, 1 to 400; 60 without")
      ->type_name("N")
      ->check(CLI::Range(1, kRehearseDaysMost));
  sub->add_option("--seed", rehearse_.seed, "of all that is random; 1 without")
      ->type_name("N")
      ->check(CLI::NonNegativeNumber);
  sub->add_option("--from", rehearse_.from, "the first phase; the one of each tub's file without")
      ->type_name("PHASE");
  sub->add_option("--room", rehearse_.room, "CSV of the room's air through time")
      ->type_name("FILE");
  sub->add_option("--faults", rehearse_.faults, "what goes wrong, and when")->type_name("FILE");
  sub->add_option_function<std::string>(
         "--against",
         [this](const std::string& given) {
           rehearse_.against =
               given == name_of(Control::portions) ? Control::portions : Control::hysteresis;
         },
         "the same once more under this control, beside it")
      ->type_name("CONTROL")
      ->check(CLI::IsMember({"hysteresis", "portions"}));
  sub->add_option("--report", rehearse_.report, "an HTML page with charts, to be written")
      ->type_name("FILE");
  sub->add_option("--charts", rehearse_.charts, "the folder of its chart library")
      ->type_name("DIR");
  sub->add_option("--plugins", rehearse_.plugins, "the folder of the plugins")->type_name("DIR");
  sub->add_flag("--fit", rehearse_.fit, "find the model's figures in what the tubs did");
  sub->add_option_function<std::string>(
         "--history",
         [this](const std::string& given) { rehearse_.history = *parse_duration(given); },
         "with --fit: how much of it, 2h to 7d; 1d without")
      ->type_name("TIME")
      ->check([](const std::string& given) {
        const auto length = parse_duration(given);
        const bool fits = length.ok() && *length >= kFitLeast && *length <= kFitMost;
        return fits ? std::string() : "'" + given + "' is no time from 2h to 7d, like 12h";
      });
  sub->add_option("--until", fit_until_, "with --fit: its end; now without")->type_name("TIME");
  sub->callback([this, sub] {
    understand_fit(sub);
    command_.wanted = rehearse_;
  });
}

void SetupWords::understand_fit(CLI::App* sub) {
  const auto given = [sub](const char* option) { return sub->get_option(option)->count() > 0; };
  if (!rehearse_.fit) {
    for (const char* option : {"--history", "--until"}) {
      if (given(option)) throw CLI::ValidationError(option, "needs --fit beside it");
    }
    return;
  }
  for (const char* option : {"--days", "--seed", "--room", "--faults", "--against", "--report"}) {
    if (given(option)) throw CLI::ValidationError(option, "plays a folder; --fit plays none");
  }
  const auto when = parse_when(fit_until_, defaults_.now, defaults_.zone);
  if (!when.ok()) throw CLI::ValidationError("--until", when.error().text);
  if (!when->note.empty()) command_.notes.push_back(when->note);
  rehearse_.until = when->at;
}

}  // namespace tubwarden::cli
