// `tubwarden kitchen lethality --topic`: the F0 of a probe in the load, counted while it is hot.
// Threading: blocks the caller until the time is over, or SIGINT. Failure: no broker, or a topic
// without one reading, is an Error with the way out.
#pragma once

#include <functional>
#include <string>

#include "base/result.hpp"
#include "core/kitchen/steam.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

/// Listens; `told` is called about each second with one short line.
Result<Sum> watch_probe(const KitchenProbe& wanted,
                        const std::function<void(const std::string& line)>& told);

}  // namespace tubwarden::cli
