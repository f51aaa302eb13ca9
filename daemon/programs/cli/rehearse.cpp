#include "programs/cli/rehearse.hpp"

#include <fmt/format.h>

#include "base/ensure.hpp"
#include "programs/cli/report.hpp"
#include "settings/file_text.hpp"
#include "settings/room_file.hpp"
#include "shell/hosts/describe.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kRoomBytesMax = 16 * 1024 * 1024;
constexpr std::size_t kFaultBytesMax = 1024 * 1024;

/// The errors of a file beside the folder, each on a line; nothing where it has none.
std::optional<Error> errors_in(const std::string& file, const std::vector<Finding>& findings) {
  std::string text = file + " is not played before it is whole:";
  bool any = false;
  for (const Finding& finding : findings) {
    if (finding.severity != Severity::error) continue;
    text += "\n" + finding.told();
    any = true;
  }
  return any ? std::optional(Error{ErrorCode::bad_input, text}) : std::nullopt;
}

std::vector<rehearsal::RoomKnot> knots_of(const std::vector<RoomPoint>& points) {
  std::vector<rehearsal::RoomKnot> knots;
  for (const RoomPoint& p : points) knots.push_back({p.at_s, p.value});
  return knots;
}

Outcome take_room(const std::string& file, rehearsal::GrowOrder& order) {
  std::vector<Finding> findings;
  const auto text = read_file_text(file, file, kRoomBytesMax, findings);
  const RoomFile room = text ? read_room(*text, file, findings) : RoomFile{};
  if (const auto wrong = errors_in(file, findings)) return *wrong;
  rehearsal::RoomSeries series;
  series.celsius = knots_of(room.celsius);
  series.humidity_pct = knots_of(room.humidity_pct);
  series.co2_ppm = knots_of(room.co2_ppm);
  series.length_s = room.length_s;
  order.room.series = std::make_shared<const rehearsal::RoomSeries>(std::move(series));
  order.start_second_of_day = room.second_of_day;
  return Done{};
}

rehearsal::Fault fault_of(const FaultLine& line) {
  const auto kind = rehearsal::fault_named(line.fault);
  ENSURE(kind.has_value());
  const bool drifts = *kind == rehearsal::Fault::Kind::sensor_drifting;
  return {
      *kind,        line.index, line.at, line.at + line.lasts, line.amount / (drifts ? 24.0 : 1.0),
      line.quantity};
}

Outcome take_faults(const std::string& file, const GrowPlan& grow, rehearsal::GrowOrder& order,
                    Rehearsed& out, std::vector<std::string>& problems) {
  std::vector<Finding> findings;
  const auto text = read_file_text(file, file, kFaultBytesMax, findings);
  if (text) out.faults = read_faults(*text, file, grow, findings);
  if (const auto wrong = errors_in(file, findings)) return *wrong;
  for (const FaultLine& line : out.faults) {
    if (line.at >= order.length) {
      problems.push_back(
          fmt::format("{}:{}: {} begins after the rehearsal's end", file, line.line, line.fault));
    }
    for (const ChamberPlan& chamber : grow.chambers) {
      if (!line.chamber.empty() && line.chamber != chamber.id) continue;
      order.faults[chamber.id].push_back(fault_of(line));
    }
  }
  return Done{};
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
    rehearsal::Observer* chart = nullptr;
    if (!wanted.report.empty()) {
      chart = &played.traces.emplace_back(air.plan, wanted.length, kReportColumns);
    }
    played.airs.push_back(rehearsal::play_air(air, wanted.length, each_day, chart));
  }
  return played;
}

void take_broken(const Played& played, Rehearsed& out) {
  for (const auto& air : played.airs) {
    for (const std::string& text : air.broken) out.broken.push_back(air.chamber.id + ": " + text);
  }
}

}  // namespace

Result<Loaded> whole_folder(const Rehearse& wanted, std::vector<std::string>& problems) {
  const PluginCatalogue plugins = describe_all(wanted.plugins, wanted.host, &problems);
  Loaded loaded = load_folder(wanted.folder, plugins);
  if (!loaded.has_errors() && loaded.site) return loaded;
  std::string text = fmt::format("{} cannot be rehearsed before it is whole:", wanted.folder);
  for (const Finding& finding : loaded.findings) {
    if (finding.severity == Severity::error) text += "\n" + finding.told();
  }
  return Error{ErrorCode::bad_input, text};
}

Result<Rehearsed> rehearse(const Rehearse& wanted, const Progress& progress,
                           std::vector<std::string>& problems) {
  const auto loaded = whole_folder(wanted, problems);
  if (!loaded) return loaded.error();
  rehearsal::GrowOrder order;
  order.length = wanted.length;
  order.seed = wanted.seed;
  order.from = wanted.from;
  order.room = rehearsal::room_day_of(loaded->grow.room);
  Rehearsed out;
  if (!wanted.room.empty()) {
    if (const Outcome taken = take_room(wanted.room, order); !taken) return taken.error();
  }
  if (!wanted.faults.empty()) {
    const Outcome taken = take_faults(wanted.faults, loaded->grow, order, out, problems);
    if (!taken) return taken.error();
  }
  const auto planned = rehearsal::plan_grow(loaded->grow, order);
  if (!planned) return planned.error();
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
