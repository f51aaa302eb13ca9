#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "base/text.hpp"
#include "shell/warden/asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kDecisionsMax = 500;
constexpr double kDecisionsUsual = 50;
/// Of an air whose configuration is gone, so many decisions are looked through.
constexpr std::size_t kDecisionsLookedThrough = 200;
/// A reading older than this says nothing of a moment.
constexpr milliseconds kReadingsBefore = minutes(10);

bool names_actuator(Asked& asked, const std::string& chamber, const std::string& actuator) {
  const auto air = asked.s.airs.find(chamber);
  if (actuator.empty() || air == asked.s.airs.end()) return true;
  std::vector<std::string> known;
  for (const ActuatorPlan& a : air->second->chamber.plan().actuators) known.push_back(a.id);
  if (std::find(known.begin(), known.end(), actuator) != known.end()) return true;
  asked.reply(unknown("actuator", actuator, known));
  return false;
}

Json decision_view(const DecisionRow& row) {
  return {{"at", rfc3339(row.stamp.wall)},
          {"clock_set", row.stamp.wall_set},
          {"id", row.actuator},
          {"level_pct", row.level / 10.0},
          {"why", row.why}};
}

/// One question after another to the record, about a moment.
class WhyAt : public std::enable_shared_from_this<WhyAt> {
 public:
  WhyAt(Asked& asked, std::string tub, WallTime at)
      : s_(asked.s),
        reply_(std::move(asked.reply)),
        tub_(std::move(tub)),
        actuator_(asked.args.text("actuator")),
        at_(at) {}

  void begin() {
    s_.parts.record.placements(tub_, [self = shared_from_this()](auto rows) {
      if (self->failed(rows)) return;
      self->take_place(*rows);
    });
  }

 private:
  template <class T>
  bool failed(const Result<T>& result) {
    if (result.ok()) return false;
    reply_(result.error());
    return true;
  }

  void take_place(const std::vector<PlacementRow>& rows) {
    for (const PlacementRow& row : rows) {
      if (row.tub != tub_ || !row.from.wall_set || row.from.wall > at_) continue;
      if (row.to && row.to->wall_set && row.to->wall <= at_) continue;
      chamber_ = row.chamber;
      batch_ = row.batch;
    }
    if (chamber_.empty()) {
      const bool any = !rows.empty() && rows.front().from.wall_set;
      const std::string begun =
          any ? "; its record begins at " + rfc3339(rows.front().from.wall) : std::string();
      return reply_(Error{ErrorCode::not_found,
                          fmt::format("{} stood nowhere at {}{}", tub_, rfc3339(at_), begun)});
    }
    s_.parts.record.phases(tub_, [self = shared_from_this()](auto phases) {
      if (self->failed(phases)) return;
      self->take_phase(*phases);
    });
  }

  void take_phase(const std::vector<PhaseRow>& rows) {
    for (const PhaseRow& row : rows) {
      if (row.batch == batch_ && row.since.wall_set && row.since.wall <= at_) phase_ = row;
    }
    const auto air = s_.airs.find(chamber_);
    if (!actuator_.empty()) {
      left_ = {actuator_};
    } else if (air != s_.airs.end()) {
      for (const ActuatorPlan& a : air->second->chamber.plan().actuators) left_.push_back(a.id);
      std::reverse(left_.begin(), left_.end());
    } else {
      return ask_all();
    }
    ask_next();
  }

  void ask_next() {
    if (left_.empty()) return ask_air();
    const std::string id = left_.back();
    left_.pop_back();
    s_.parts.record.decisions(chamber_, id, at_ + milliseconds(1), 1,
                              [self = shared_from_this()](auto rows) {
                                if (self->failed(rows)) return;
                                for (const DecisionRow& row : *rows) self->decided_.push_back(row);
                                self->ask_next();
                              });
  }

  void ask_all() {
    s_.parts.record.decisions(chamber_, "", at_ + milliseconds(1), kDecisionsLookedThrough,
                              [self = shared_from_this()](auto rows) {
                                if (self->failed(rows)) return;
                                for (const DecisionRow& row : *rows) {
                                  const bool known = std::any_of(
                                      self->decided_.begin(), self->decided_.end(),
                                      [&](const auto& d) { return d.actuator == row.actuator; });
                                  if (!known) self->decided_.push_back(row);
                                }
                                self->ask_air();
                              });
  }

  void ask_air() {
    const HistoryAsk ask{chamber_, {}, at_ - kReadingsBefore, at_ + milliseconds(1), {}};
    s_.parts.record.history(ask, [self = shared_from_this()](auto history) {
      if (self->failed(history)) return;
      self->answer(*history);
    });
  }

  void answer(const History& history) {
    Json j = {{"tub", tub_}, {"chamber", chamber_}, {"batch", batch_}, {"at", rfc3339(at_)}};
    j["phase"] = phase_ ? phase_->phase : "";
    j["phase_since"] = phase_ ? Json(rfc3339(phase_->since.wall)) : Json(nullptr);
    j["air"] = Json::array();
    for (const HistorySeries& series : history.series) {
      if (series.points.empty()) continue;
      const HistoryPoint& last = series.points.back();
      j["air"].push_back({{"quantity", name_of(series.quantity)},
                          {"word", word_of(series.quantity)},
                          {"unit", unit_of(series.quantity)},
                          {"sensor", series.sensor},
                          {"value", last.mean},
                          {"age_s", std::round(seconds_of(at_ - last.at) * 10.0) / 10.0}});
    }
    j["lines"] = Json::array();
    for (const DecisionRow& row : decided_) j["lines"].push_back(decision_view(row));
    reply_(j.dump());
  }

  Warden::State& s_;
  Warden::Reply reply_;
  std::string tub_, actuator_;
  WallTime at_;
  std::string chamber_, batch_;
  std::optional<PhaseRow> phase_;
  std::vector<std::string> left_;  ///< actuators still to be asked for, the next one last
  std::vector<DecisionRow> decided_;
};

}  // namespace

void do_decisions(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const std::string chamber = tub->plan.chamber;
  const std::string actuator = asked.args.text("actuator");
  if (!names_actuator(asked, chamber, actuator)) return;
  const double limit = asked.args.number("limit").value_or(kDecisionsUsual);
  if (!(limit >= 1 && limit <= kDecisionsMax)) {
    return asked.reply(
        Error{ErrorCode::bad_input, fmt::format("the last {} decisions: allowed are 1 to {}",
                                                trimmed(limit), trimmed(kDecisionsMax))});
  }
  asked.s.parts.record.decisions(chamber, actuator, std::nullopt, static_cast<std::size_t>(limit),
                                 [chamber, reply = std::move(asked.reply)](auto rows) {
                                   if (!rows.ok()) return reply(rows.error());
                                   Json list = Json::array();
                                   for (const DecisionRow& row : *rows)
                                     list.push_back(decision_view(row));
                                   reply(Json{{"chamber", chamber}, {"rows", list}}.dump());
                                 });
}

void do_why_at(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const auto at = parse_rfc3339(asked.args.text("at"));
  if (!at) {
    return asked.reply(
        Error{ErrorCode::bad_input, "'at' is the moment as RFC 3339: 2026-11-25T10:00:00Z"});
  }
  if (asked.s.parts.clock.wall_is_set() && *at > asked.s.parts.clock.wall()) {
    return asked.reply(Error{ErrorCode::bad_input, rfc3339(*at) + " is still to come"});
  }
  std::make_shared<WhyAt>(asked, tub->plan.id, *at)->begin();
}

}  // namespace tubwarden
