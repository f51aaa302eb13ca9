// Words about grain jars.
#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "programs/cli/json_read.hpp"
#include "programs/cli/words_grow.hpp"
#include "programs/cli/words_grow_read.hpp"

namespace tubwarden::cli {

void GrowWords::add_jar(CLI::App& to) {
  CLI::App* jar = add_(to, "jar", "Grain jars: filled, looked at, shaken, ended.",
                       "tubwarden jar add --batch B-07 --count 5 --culture LC-2 --dose 1mL");
  jar->require_subcommand(1);
  add_jar_add(*jar);
  add_jar_acts(*jar);
  add_jar_end(*jar);
  CLI::App* list =
      add_(*jar, "list", "The jars that stand, or all.", "tubwarden jar list --batch B-07");
  ask(*list, "--batch", "of this batch only, ended ones too", batch_);
  list->add_flag("--all", all_, "those that were mixed, contaminated or discarded, too");
  list->callback([this] {
    Json args = {{"all", all_}};
    if (!batch_.empty()) args["batch"] = batch_;
    command_.wanted = Ask{"jars", dumped(args), show_jars};
  });
  CLI::App* show = add_(*jar, "show", "One jar.", "tubwarden jar show J-3");
  ask(*show, "JAR", "its name", id_, true);
  show->callback([this] { command_.wanted = Ask{"jar", dumped({{"jar", id_}}), show_jar}; });
}

void GrowWords::add_jar_add(CLI::App& jar) {
  CLI::App* add = add_act(jar, "add", "Jars were filled, and with a culture inoculated.",
                          "tubwarden jar add --batch B-07 --count 5 --culture LC-2 --dose 1mL \\\n"
                          "    --grain rye --fill 300g --run S-3 --shelf jars");
  ask(*add, "--batch", "whose jars they are", batch_, true);
  add->add_option("--count", count_, "how many; 1 without")->type_name("N");
  add->add_option("--id", ids_, "their names; J-1 and on without")->type_name("ID");
  ask(*add, "--culture", "what they were inoculated with", culture_);
  ask(*add, "--dose", "of it in each, like 1mL", dose_);
  ask(*add, "--grain", "which grain", grain_);
  ask(*add, "--fill", "of it in each, like 300g", fill_);
  ask(*add, "--run", "the sterilising run, like S-3", run_);
  ask(*add, "--shelf", "where they stand", shelf_);
  add->add_option("--lid", lid_, "vented or closed; vented without")
      ->type_name("LID")
      ->check(CLI::IsMember({"vented", "closed"}));
  add->callback([this] {
    if (count_ && !ids_.empty()) wrong_grow_word("--count", "and --id exclude each other");
    if (culture_.empty() != dose_.empty()) {
      wrong_grow_word("--culture", "and --dose belong together; give both or none");
    }
    Json args = {{"batch", batch_}, {"lid", lid_}};
    if (count_) args["count"] = *count_;
    if (!ids_.empty()) args["jars"] = ids("--id");
    const std::pair<const char*, const std::string*> texts[] = {
        {"culture", &culture_}, {"grain", &grain_}, {"run", &run_}, {"shelf", &shelf_}};
    for (const auto& [name, given] : texts) {
      if (!given->empty()) args[name] = *given;
    }
    std::string json = dumped(args);
    give(json, "dose_ml", "--dose", dose_, parse_millilitres);
    give(json, "fill_g", "--fill", fill_, read_grams);
    act("jar_add", json);
  });
}

void GrowWords::add_jar_acts(CLI::App& jar) {
  CLI::App* inoculate = add_act(jar, "inoculate", "Jars that stood without a culture got one.",
                                "tubwarden jar inoculate J-1..J-5 --culture LC-2 --dose 1mL");
  inoculate->add_option("JAR", ids_, "one or more, or a range")->required();
  ask(*inoculate, "--culture", "what with", culture_, true);
  ask(*inoculate, "--dose", "of it in each, like 1mL", dose_, true);
  inoculate->callback([this] {
    std::string args = dumped({{"jars", ids("JAR")}, {"culture", culture_}});
    give(args, "dose_ml", "--dose", dose_, parse_millilitres);
    act("jar_inoculate", args);
  });

  CLI::App* look = add_act(jar, "look", "How far a jar is grown through, by eye.",
                           "tubwarden jar look J-3 25%\n  tubwarden jar look J-1..J-5 60%");
  look->add_option("JAR PERCENT", ids_, "one or more jars, then how far, 0 to 100%")->required();
  look->callback([this] {
    if (ids_.size() < 2) wrong_grow_word("JAR PERCENT", "say which jar, and how far: J-3 25%");
    const std::string grown = ids_.back();
    ids_.pop_back();
    std::string args = dumped({{"jars", ids("JAR")}});
    give(args, "grown_pct", "PERCENT", grown, read_percent);
    act("jar_look", args);
  });

  CLI::App* shake = add_act(jar, "shake", "Jars were shaken: their grain is mixed through.",
                            "tubwarden jar shake J-3 J-4");
  shake->add_option("JAR", ids_, "one or more, or a range")->required();
  shake->callback([this] { act("jar_shake", dumped({{"jars", ids("JAR")}})); });
}

void GrowWords::add_jar_end(CLI::App& jar) {
  CLI::App* bad = add_act(jar, "contaminated", "Something grows in a jar that should not.",
                          "tubwarden jar contaminated J-3 \"green patch at the shoulder\"");
  ask(*bad, "JAR", "which", id_, true);
  bad->add_option("WORDS", amount_, "what you see");
  bad->callback([this] {
    const std::string seen = fmt::format("{}", fmt::join(amount_, " "));
    act("jar_contaminated", dumped({{"jar", id_}, {"seen", seen}}), show_contaminated);
  });

  CLI::App* discard = add_act(jar, "discard", "Jars left the house.",
                              "tubwarden jar discard J-3 --why \"green mould\"");
  discard->add_option("JAR", ids_, "one or more, or a range")->required();
  ask(*discard, "--why", "the reason", why_);
  discard->callback([this] { act("jar_discard", dumped({{"jars", ids("JAR")}, {"why", why_}})); });
}

}  // namespace tubwarden::cli
