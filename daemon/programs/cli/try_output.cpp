#include "programs/cli/try_output.hpp"

#include <fmt/format.h>

#include <chrono>
#include <thread>

#include "programs/cli/json_read.hpp"
#include "shell/control/control_client.hpp"

namespace tubwarden::cli {
namespace {

constexpr auto kLookEvery = std::chrono::milliseconds(500);

}  // namespace

Result<TrialVerdict> try_output(const TryOutput& wanted, const std::string& socket,
                                const std::function<void(const std::string&)>& told) {
  Json args = {{"tub", wanted.tub}, {"actuator", wanted.actuator}, {"for", wanted.length}};
  const auto begun = ask_daemon(socket, "try", args.dump(), kAnswerWithin);
  if (!begun.ok()) return begun.error();
  args.erase("for");
  while (true) {
    // The daemon ends its watch by itself: that is the bound.
    const auto answer = ask_daemon(socket, "trial", args.dump(), kAnswerWithin);
    if (!answer.ok()) return answer.error();
    const auto trial = parsed(*answer, "over");
    if (!trial.ok()) return trial.error();
    if (yes(*trial, "over"))
      return TrialVerdict{yes(*trial, "good"), text(*trial, "text"), *answer};
    told(fmt::format("watching for another {:.0f}s at most: {}",
                     number(*trial, "left_s").value_or(0), text(*trial, "text")));
    std::this_thread::sleep_for(kLookEvery);
  }
}

std::string try_page(const TrialVerdict& verdict, const Look& look) {
  return beside("", clean(verdict.text, look), verdict.good ? Ink::plain : Ink::warn, look);
}

}  // namespace tubwarden::cli
