// `tubwarden rehearse`: a configuration folder played against the physical model, without a daemon.
// Threading: blocks; plays the airs one after another. Failure: an Error for what cannot be read or
// played; warnings of the folder are not repeated here.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "programs/cli/words.hpp"
#include "rehearsal/grow_play.hpp"
#include "rehearsal/trace.hpp"
#include "settings/faults_file.hpp"
#include "settings/settings.hpp"

namespace tubwarden::cli {

/// The whole folder under one control.
struct Played {
  std::optional<Control> control;  ///< nothing: as the chambers say
  std::vector<rehearsal::PlayedAir> airs;
  std::vector<rehearsal::Trace> traces;  ///< by air, where a report is wanted
};

struct Rehearsed {
  std::string site;
  Duration length{0};
  std::uint64_t seed = 1;
  GrowPlan grow;
  Played played;
  std::optional<Played> beside;  ///< the same world under another control
  std::vector<FaultLine> faults;
  std::vector<std::string> assumed;  ///< sentences
  std::vector<std::string> broken;   ///< rules that the control broke: a defect of the program
};

/// Told as it goes: which air, and how much of all work is done, 0..1.
using Progress = std::function<void(const std::string& air, double done)>;

/// The folder of `wanted`; with an error in it, that instead.
Result<Loaded> whole_folder(const Rehearse& wanted, std::vector<std::string>& problems);

Result<Rehearsed> rehearse(const Rehearse& wanted, const Progress& progress,
                           std::vector<std::string>& problems);

/// "tank_empty of tub-1/mister, day 10 00:00 for 6h".
std::string fault_words(const FaultLine& fault);
/// The line of a terminal while it goes on.
std::string rehearsing(const std::string& air, double done);
std::string rehearsed_page(const Rehearsed& rehearsed, const Look& look);
std::string rehearsed_json(const Rehearsed& rehearsed);

}  // namespace tubwarden::cli
