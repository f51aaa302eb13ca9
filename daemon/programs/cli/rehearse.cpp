#include "programs/cli/rehearse.hpp"

#include <fmt/format.h>

#include "shell/hosts/describe.hpp"

namespace tubwarden::cli {
namespace {

Result<Loaded> loaded_for(const Rehearse& wanted, std::vector<std::string>& problems) {
  const PluginCatalogue plugins = describe_all(wanted.plugins, wanted.host, &problems);
  Loaded loaded = load_folder(wanted.folder, plugins);
  if (!loaded.has_errors() && loaded.site) return loaded;
  std::string text = fmt::format("{} cannot be rehearsed before it is whole:", wanted.folder);
  for (const Finding& finding : loaded.findings) {
    if (finding.severity == Severity::error) text += "\n" + finding.told();
  }
  return Error{ErrorCode::bad_input, text};
}

Played play_all(const rehearsal::PlannedGrow& planned, const Rehearse& wanted,
                const std::function<void(const std::string&, double)>& told) {
  Played played;
  for (std::size_t i = 0; i < planned.airs.size(); ++i) {
    const auto& air = planned.airs[i];
    const auto each_day = [&](Duration passed) {
      const double share = seconds_of(passed) / seconds_of(wanted.length);
      told(air.plan.chamber.id,
           (static_cast<double>(i) + share) / static_cast<double>(planned.airs.size()));
      return true;
    };
    played.airs.push_back(rehearsal::play_air(air, wanted.length, each_day));
  }
  return played;
}

void take_broken(const Played& played, Rehearsed& out) {
  for (const auto& air : played.airs) {
    for (const std::string& text : air.broken) out.broken.push_back(air.chamber.id + ": " + text);
  }
}

}  // namespace

Result<Rehearsed> rehearse(const Rehearse& wanted, const Progress& progress,
                           std::vector<std::string>& problems) {
  const auto loaded = loaded_for(wanted, problems);
  if (!loaded) return loaded.error();
  rehearsal::GrowOrder order;
  order.length = wanted.length;
  order.seed = wanted.seed;
  order.from = wanted.from;
  order.room = rehearsal::room_day_of(loaded->grow.room);
  const auto planned = rehearsal::plan_grow(loaded->grow, order);
  if (!planned) return planned.error();

  Rehearsed out;
  out.site = loaded->site->site;
  out.length = wanted.length;
  out.seed = wanted.seed;
  out.grow = loaded->grow;
  out.assumed = planned->assumed;
  const double part = wanted.against ? 0.5 : 1.0;
  out.played = play_all(*planned, wanted,
                        [&](const std::string& air, double done) { progress(air, done * part); });
  take_broken(out.played, out);
  if (!wanted.against) return out;
  order.control = wanted.against;
  const auto beside = rehearsal::plan_grow(loaded->grow, order);
  if (!beside) return beside.error();
  out.beside = play_all(*beside, wanted, [&](const std::string& air, double done) {
    progress(air, part + done * part);
  });
  out.beside->control = wanted.against;
  take_broken(*out.beside, out);
  return out;
}

}  // namespace tubwarden::cli
