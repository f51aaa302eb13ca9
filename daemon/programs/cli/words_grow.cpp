#include "programs/cli/words_grow.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "programs/cli/words_grow_read.hpp"

namespace tubwarden::cli {

GrowWords::GrowWords(Command& command, const Defaults& defaults, Add add)
    : command_(command), defaults_(defaults), add_(std::move(add)) {}

CLI::App* GrowWords::add_act(CLI::App& to, const std::string& name, const std::string& does,
                             const std::string& example) {
  CLI::App* sub = add_(to, name, does, example);
  sub->add_option("--on", on_, "when it was done: 14:30, 2026-11-24, 2h (ago); now without")
      ->type_name("TIME");
  sub->add_option("--note", note_, "words for the record")->type_name("WORDS");
  sub->add_option("--photo", photo_, "path of a picture")->type_name("PATH");
  return sub;
}

void GrowWords::ask(CLI::App& sub, const std::string& name, const std::string& help,
                    std::string& text, bool needed) {
  CLI::Option* option = sub.add_option(name, text, help);
  option->type_name(name.rfind("--", 0) == 0 ? "VALUE" : "");
  if (needed) option->required();
}

std::vector<std::string> GrowWords::ids(const char* word) const {
  const auto all = spread(ids_);
  if (!all.ok()) wrong_grow_word(word, all.error().text);
  return *all;
}

void GrowWords::give(std::string& args, const char* name, const char* option,
                     const std::string& text, Result<double> (*parse)(std::string_view)) const {
  if (text.empty()) return;
  const auto value = parse(text);
  if (!value.ok()) wrong_grow_word(option, value.error().text);
  Json json = Json::parse(args);
  json[name] = *value;
  args = json.dump();
}

void GrowWords::act(const std::string& what, const std::string& args_json,
                    Shown (*show)(const std::string&, const Look&)) {
  Json args = Json::parse(args_json);
  if (!on_.empty()) {
    const auto when = parse_when(on_, defaults_.now, defaults_.zone);
    if (!when.ok()) wrong_grow_word("--on", when.error().text);
    if (!when->note.empty()) command_.notes.push_back(when->note);
    args["on"] = rfc3339(when->at);
  }
  if (!note_.empty()) args["note"] = note_;
  if (!photo_.empty()) args["photo"] = photo_;
  command_.wanted = Ask{what, dumped(args), show};
}

void GrowWords::add_culture(CLI::App& to) {
  CLI::App* culture = add_(to, "culture", "Liquid cultures: received, opened, left.",
                           "tubwarden culture receive LC-2 --volume 10mL --strain A15");
  culture->require_subcommand(1);
  CLI::App* receive = add_act(*culture, "receive", "A culture came into the house.",
                              "tubwarden culture receive LC-2 --volume 10mL --strain A15");
  ask(*receive, "ID", "its name, like LC-2", id_, true);
  ask(*receive, "--volume", "how much it is, like 10mL", volume_, true);
  ask(*receive, "--strain", "which strain", strain_);
  ask(*receive, "--source", "who made it", source_);
  receive->callback([this] {
    std::string args = dumped({{"culture", id_}, {"strain", strain_}, {"source", source_}});
    give(args, "millilitres", "--volume", volume_, parse_millilitres);
    act("culture_receive", args);
  });
  CLI::App* open = add_act(*culture, "open", "Its seal was broken.", "tubwarden culture open LC-2");
  ask(*open, "ID", "its name", id_, true);
  open->callback([this] { act("culture_open", dumped({{"culture", id_}})); });
  CLI::App* discard = add_act(*culture, "discard", "What was left of it was thrown away.",
                              "tubwarden culture discard LC-2 --why \"cloudy\"");
  ask(*discard, "ID", "its name", id_, true);
  ask(*discard, "--why", "the reason", why_);
  discard->callback([this] { act("culture_discard", dumped({{"culture", id_}, {"why", why_}})); });
  add_(*culture, "list", "All cultures and what is left of them.", "tubwarden culture list")
      ->callback([this] {
        command_.wanted = Ask{"cultures", "{}", show_cultures};
      });
  CLI::App* show =
      add_(*culture, "show", "One culture and its jars.", "tubwarden culture show LC-2");
  ask(*show, "ID", "its name", id_, true);
  show->callback([this] {
    command_.wanted = Ask{"culture", dumped({{"culture", id_}}), show_culture};
  });
}

void GrowWords::add_sterilise(CLI::App& to) {
  CLI::App* sub = add_act(to, "sterilise", "A load of a pressure vessel was sterilised.",
                          "tubwarden sterilise S-3 --hold 90m --gauge 103kPa --what \"6 jars\"");
  ask(*sub, "RUN", "the run's name, like S-3", id_, true);
  ask(*sub, "--hold", "how long at its pressure, like 90m", hold_, true);
  ask(*sub, "--gauge", "what the gauge said, like 103kPa or 15psi", gauge_);
  ask(*sub, "--f0", "lethality in minutes, see tubwarden kitchen lethality", f0_);
  ask(*sub, "--what", "what was in it", what_);
  sub->callback([this] {
    std::string args = dumped({{"run", id_}, {"hold", hold_}, {"what", what_}});
    give(args, "gauge_kpa", "--gauge", gauge_, read_gauge);
    give(args, "f0_minutes", "--f0", f0_, read_minutes);
    act("sterilise", args);
  });
}

void GrowWords::add_substrate(CLI::App& to) {
  CLI::App* substrate = add_(to, "substrate", "Substrate for the tubs.",
                             "tubwarden substrate make M-4 --dry 5kg --water 8L");
  substrate->require_subcommand(1);
  CLI::App* make = add_act(*substrate, "make", "A mix was made.",
                           "tubwarden substrate make M-4 --dry 5kg --water 8L --of \"straw\"");
  ask(*make, "MIX", "its name, like M-4", id_, true);
  ask(*make, "--dry", "dry mass, like 5kg", dry_, true);
  ask(*make, "--water", "water, like 8L", water_, true);
  ask(*make, "--of", "what it is made of", what_);
  make->callback([this] {
    std::string args = dumped({{"mix", id_}, {"of", what_}});
    give(args, "dry_kg", "--dry", dry_, read_mass);
    give(args, "water_kg", "--water", water_, parse_water_kg);
    act("substrate_make", args);
  });
}

void GrowWords::add_asked(CLI::App& to) {
  add_(to, "today", "What is due, the pressing first.", "tubwarden today")->callback([this] {
    command_.wanted = Ask{"today", "{}", show_today};
  });
  CLI::App* trace = add_(to, "trace", "Where something came from, and what became of it.",
                         "tubwarden trace J-3\n  tubwarden trace LC-2");
  ask(*trace, "ID", "a jar, culture, sterilising run, substrate, tub or batch", id_, true);
  trace->callback([this] { command_.wanted = Ask{"trace", dumped({{"of", id_}}), show_trace}; });
  CLI::App* forecast = add_(to, "forecast", "When a jar is grown through, or a tub first picked.",
                            "tubwarden forecast J-3\n  tubwarden forecast tub-1");
  ask(*forecast, "NAME", "a jar, batch or tub", id_, true);
  forecast->callback([this] {
    command_.wanted = Ask{"forecast", dumped({{"of", id_}}), show_forecast};
  });
  CLI::App* undo = add_act(to, "undo", "Takes entries of the grow back, by new entries.",
                           "tubwarden undo last\n  tubwarden undo 42");
  undo->add_option("ENTRY", ids_, "last, or entries by their numbers")->required();
  undo->callback([this] {
    if (ids_.size() == 1 && ids_.front() == "last") return act("undo", dumped({{"last", true}}));
    Json entries = Json::array();
    for (const std::string& word : ids_) entries.push_back(read_entry(word));
    act("undo", dumped({{"entries", entries}}));
  });
  CLI::App* done = add_act(to, "done", "Upkeep that was done, and is due again some day.",
                           "tubwarden done recalibrated tub-1/air");
  ask(*done, "WHAT", "recalibrated, cleaned or drilled", what_, true);
  ask(*done, "NAME", "of what: a tub, a sensor as TUB/SENSOR, a tool", id_, true);
  done->callback([this] { act("done", dumped({{"what", what_}, {"of", id_}})); });
}

}  // namespace tubwarden::cli
