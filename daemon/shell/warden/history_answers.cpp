#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "base/text.hpp"
#include "shell/warden/asked.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// One answer holds so many points and runs; the next begins where it ends.
constexpr std::size_t kPointsAnswered = 10'000;
constexpr std::size_t kNameBytesMax = 200;

Json wall_or_null(const std::optional<Stamp>& stamp) {
  return stamp && stamp->wall_set ? Json(rfc3339(stamp->wall)) : Json(nullptr);
}

/// The stays of a tub or batch. One whose beginning has no known time cannot be joined.
Json stays_view(const std::string& of, const std::vector<PlacementRow>& rows) {
  Json stays = Json::array();
  std::size_t untimed = 0;
  for (const PlacementRow& row : rows) {
    if (!row.from.wall_set || (row.to && !row.to->wall_set)) {
      ++untimed;
      continue;
    }
    stays.push_back({{"tub", row.tub},
                     {"chamber", row.chamber},
                     {"batch", row.batch},
                     {"from", wall_or_null(row.from)},
                     {"to", wall_or_null(row.to)}});
  }
  const bool tub =
      std::any_of(rows.begin(), rows.end(), [&](const auto& r) { return r.tub == of; });
  return {{"of", of}, {"kind", tub ? "tub" : "batch"}, {"stays", stays}, {"untimed", untimed}};
}

Json chamber_view(const std::string& of) {
  const Json always = {
      {"tub", ""}, {"chamber", of}, {"batch", ""}, {"from", nullptr}, {"to", nullptr}};
  return {{"of", of}, {"kind", "chamber"}, {"stays", Json::array({always})}, {"untimed", 0}};
}

Error nothing_of(const Warden::State& s, const std::string& of) {
  std::set<std::string> known;
  for (const auto& [id, tub] : s.tubs) known.insert(id);
  for (const auto& [id, air] : s.airs) known.insert(id);
  Error error = unknown("tub, batch or chamber", of, {known.begin(), known.end()});
  error.text += "; batches: `tubwarden batch list`";
  return error;
}

/// The time at which an answer has to end, so that it holds no more than kPointsAnswered.
std::optional<WallTime> end_of_answer(const History& history, WallTime from) {
  std::vector<WallTime> times;
  for (const HistorySeries& series : history.series) {
    for (const HistoryPoint& point : series.points) times.push_back(point.at);
  }
  for (const RunRow& run : history.runs) {
    if (run.began.wall >= from) times.push_back(run.began.wall);
  }
  if (times.size() <= kPointsAnswered) return std::nullopt;
  const auto cut = times.begin() + kPointsAnswered;
  std::nth_element(times.begin(), cut, times.end());
  return *cut;
}

double rounded(double value) { return std::round(value * 100.0) / 100.0; }

/// [at, value] for one reading, else [at, low, mean, high, count].
Json point_view(const HistoryPoint& p) {
  if (p.count == 1) return Json::array({rfc3339(p.at), rounded(p.mean)});
  return Json::array({rfc3339(p.at), rounded(p.low), rounded(p.mean), rounded(p.high), p.count});
}

Json run_view(const RunRow& run, bool now) {
  return {{"id", run.actuator},
          {"level_pct", run.level / 10.0},
          {"began", rfc3339(run.began.wall)},
          {"lasted_s", std::round(seconds_of(run.lasted) * 10.0) / 10.0},
          {"now", now}};
}

/// The runs that go on: they have no row yet.
void add_current_runs(const Warden::State& s, const HistoryAsk& ask, Json& runs) {
  const auto air = s.airs.find(ask.chamber);
  const Stamp at = s.stamp();
  if (air == s.airs.end() || !at.wall_set || at.wall < ask.from) return;
  for (const ActuatorView& view : air->second->chamber.actuators(at.boot)) {
    if (view.level <= kRest) continue;
    RunRow run{ask.chamber, view.id, view.level, at, at.boot - view.since};
    run.began.wall -= duration_cast<milliseconds>(run.lasted);
    if (run.began.wall < ask.to) runs.push_back(run_view(run, true));
  }
}

Json history_view(const Warden::State& s, const HistoryAsk& ask, const History& history) {
  const std::optional<WallTime> end = end_of_answer(history, ask.from);
  const WallTime to = end.value_or(ask.to);
  Json j = {{"chamber", ask.chamber}, {"from", rfc3339(ask.from)}, {"to", rfc3339(to)}};
  j["next"] = end ? Json(rfc3339(*end)) : Json(nullptr);
  j["series"] = Json::array();
  for (const HistorySeries& series : history.series) {
    Json points = Json::array();
    for (const HistoryPoint& point : series.points) {
      if (point.at < to) points.push_back(point_view(point));
    }
    j["series"].push_back({{"sensor", series.sensor},
                           {"quantity", name_of(series.quantity)},
                           {"unit", unit_of(series.quantity)},
                           {"points", std::move(points)}});
  }
  j["runs"] = Json::array();
  for (const RunRow& run : history.runs) {
    if (run.began.wall < to) j["runs"].push_back(run_view(run, false));
  }
  if (!end) add_current_runs(s, ask, j["runs"]);
  j["unplaced"] = history.unplaced;
  j["damaged"] = history.damaged;
  return j;
}

}  // namespace

void do_stays(Asked& asked) {
  const std::string of = asked.args.text("of");
  Warden::State& s = asked.s;
  s.parts.record.placements(of, [&s, of, reply = std::move(asked.reply)](auto rows) {
    if (!rows.ok()) return reply(rows.error());
    if (!rows->empty()) return reply(stays_view(of, *rows).dump());
    if (s.airs.contains(of)) return reply(chamber_view(of).dump());
    if (s.tubs.contains(of)) return reply(stays_view(of, {}).dump());
    reply(nothing_of(s, of));
  });
}

void do_history(Asked& asked) {
  const auto from = parse_rfc3339(asked.args.text("from"));
  const auto to = parse_rfc3339(asked.args.text("to"));
  const double every_s = asked.args.number("every_s").value_or(0.0);
  HistoryAsk ask;
  ask.chamber = asked.args.text("chamber");
  if (ask.chamber.empty() || ask.chamber.size() > kNameBytesMax) {
    return asked.reply(Error{ErrorCode::bad_input, "'chamber' is the air's name"});
  }
  if (!from || !to || *from >= *to) {
    return asked.reply(
        Error{ErrorCode::bad_input,
              "'from' and 'to' are RFC 3339 (2026-11-25T10:00:00Z), and from comes before to"});
  }
  const double span_s = seconds_of(*to - *from);
  if (!(every_s == 0.0 || (every_s >= 1.0 && every_s <= 3650.0 * 86400.0)) ||
      (every_s > 0.0 && span_s / every_s > static_cast<double>(kPointsAnswered))) {
    return asked.reply(
        Error{ErrorCode::bad_input,
              fmt::format("'every_s' is 0 (each reading) or at least 1, and at most {} of them in "
                          "one question",
                          kPointsAnswered)});
  }
  ask.from = *from;
  ask.to = *to;
  ask.width = milliseconds(std::llround(every_s * 1000.0));
  Warden::State& s = asked.s;
  s.parts.record.history(ask, [&s, ask, reply = std::move(asked.reply)](auto history) {
    if (!history.ok()) return reply(history.error());
    if (history->cut) {
      return reply(Error{ErrorCode::refused,
                         fmt::format("more than {} readings in that time; ask for a shorter one, "
                                     "or a wider every",
                                     kHistoryPointsMax)});
    }
    reply(history_view(s, ask, *history).dump());
  });
}

}  // namespace tubwarden
