// `tubwarden rehearse --fit`: the model's figures found in what each air of a folder did, and what
// follows for its configuration.
// Threading: blocks; fits the airs one after another. Failure: an Error for what cannot be read or
// where no air could be fitted; of several airs, one that could not is told beside the others.
#pragma once

#include <string>
#include <vector>

#include "programs/cli/fit_source.hpp"
#include "programs/cli/words.hpp"
#include "rehearsal/fit_advice.hpp"

namespace tubwarden::cli {

struct FittedAir {
  ChamberPlan chamber;
  std::string phase;  ///< whose bed was taken
  WallTime from{}, to{};
  rehearsal::TubFit fit;
  std::vector<rehearsal::FitAdvice> advice;
};
struct FittedFolder {
  std::string site;
  std::vector<FittedAir> airs;
  std::vector<std::string> not_fitted;  ///< "tub-2: this history is ..."
};

/// `ask` is tried first; where no daemon answers, the record's folder is read.
Result<FittedFolder> fit_folder(const Rehearse& wanted, const AskDaemon& ask, Zone zone,
                                const std::function<void(const std::string& air)>& told,
                                std::vector<std::string>& problems);

std::string fitted_page(const FittedFolder& fitted, const Look& look);
std::string fitted_json(const FittedFolder& fitted);

}  // namespace tubwarden::cli
