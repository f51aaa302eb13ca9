// Words about tubs that grow.
#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "programs/cli/json_read.hpp"
#include "programs/cli/words_grow.hpp"
#include "programs/cli/words_grow_read.hpp"

namespace tubwarden::cli {

void GrowWords::add_beds(CLI::App& to) {
  CLI::App* spawn = add_act(to, "spawn", "Jars were mixed into the substrate of a tub.",
                            "tubwarden spawn tub-1 --jars J-1..J-4 --mix M-4 --substrate 5kg");
  ask(*spawn, "TUB", "the tub's name", tub_, true);
  spawn->add_option("--jars", ids_, "which jars, or a range")->required()->type_name("JAR");
  ask(*spawn, "--substrate", "wet substrate, like 5kg", substrate_, true);
  ask(*spawn, "--mix", "the substrate's mix, like M-4", mix_);
  ask(*spawn, "--dry", "dry mass in it; by its mix without", dry_);
  ask(*spawn, "--surface", "of the bed, like 0.24m2", surface_);
  spawn->callback([this] {
    Json given = {{"tub", tub_}, {"jars", ids("--jars")}};
    if (!mix_.empty()) given["mix"] = mix_;
    std::string args = dumped(given);
    give(args, "substrate_kg", "--substrate", substrate_, read_mass);
    give(args, "dry_kg", "--dry", dry_, read_mass);
    give(args, "surface_m2", "--surface", surface_, parse_area);
    act("spawn", args);
  });

  CLI::App* cased = add_act(to, "case", "The casing layer was laid on.",
                            "tubwarden case tub-1 --with \"peat and lime\" --depth 40mm");
  ask(*cased, "TUB", "the tub's name", tub_, true);
  ask(*cased, "--with", "what it is made of", what_);
  ask(*cased, "--depth", "how deep, like 40mm", depth_);
  cased->callback([this] {
    std::string args = dumped({{"tub", tub_}, {"with", what_}});
    give(args, "depth_mm", "--depth", depth_, read_millimetres);
    act("case", args);
  });

  CLI::App* pins = add_act(to, "pins", "Pins are there.", "tubwarden pins tub-1 --size 3mm");
  ask(*pins, "TUB", "the tub's name", tub_, true);
  ask(*pins, "--size", "of the largest, like 3mm; 2mm without", size_);
  pins->callback([this] {
    std::string args = dumped({{"tub", tub_}});
    give(args, "size_mm", "--size", size_, read_millimetres);
    act("pins", args);
  });

  CLI::App* harvest =
      add_act(to, "harvest", "Mushrooms were picked.", "tubwarden harvest tub-1 420g --count 31");
  ask(*harvest, "TUB", "the tub's name", tub_, true);
  harvest->add_option("WEIGHT", amount_, "how much, like 420g or 1.2kg")->required();
  harvest->add_option("--count", count_, "how many")->type_name("N");
  harvest->callback([this] {
    Json given = {{"tub", tub_}};
    if (count_) given["count"] = *count_;
    std::string args = dumped(given);
    give(args, "grams", "WEIGHT", fmt::format("{}", fmt::join(amount_, " ")), read_grams);
    act("harvest", args);
  });

  CLI::App* clean = add_act(to, "clean", "A flush is picked out, its stumps are cleaned away.",
                            "tubwarden clean tub-1");
  ask(*clean, "TUB", "the tub's name", tub_, true);
  clean->callback([this] { act("clean", dumped({{"tub", tub_}})); });

  CLI::App* bad = add_act(to, "contaminated", "Something grows in a tub that should not.",
                          "tubwarden contaminated tub-1 \"cobweb on the casing\"");
  ask(*bad, "TUB", "the tub's name", tub_, true);
  bad->add_option("WORDS", amount_, "what you see");
  bad->callback([this] {
    const std::string seen = fmt::format("{}", fmt::join(amount_, " "));
    act("contaminated", dumped({{"tub", tub_}, {"seen", seen}}));
  });
}

}  // namespace tubwarden::cli
