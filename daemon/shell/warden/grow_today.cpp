// What is due: the tasks of the record joined with what only the airs know, and the one message of
// a morning.
#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// Humidity and CO2 sensors drift by about their accuracy a year (common practice, no source).
constexpr Duration kRecalibrateEvery = days(365);
constexpr Duration kDrillEvery = days(365);
/// A tank that lasts no longer is to be filled today (choice).
constexpr Duration kTankLow = hours(24);
/// A casing that was never watered asks for water after so much (choice: a millimetre of water on
/// 0.1 m2).
constexpr double kFirstWaterG = 100.0;
/// A message on a phone tells so many tasks, then counts.
constexpr std::size_t kToldMax = 12;

TaskWindow window_of(const Expect& expect) {
  return {expect.from.value_or(Duration{0}), expect.to.value_or(Duration{0}),
          expect.late.value_or(Duration{0})};
}

void add_water(const std::string& tub_of_air, const WaterView& view, TaskFacts& facts) {
  for (const CasingView& casing : view.casings) {
    if (!view.missing.empty()) break;
    const WaterAccount& a = casing.account;
    const double due = casing.given_ml > 0.0 ? casing.given_ml : kFirstWaterG;
    if (a.gave_g <= a.doubt_g || a.gave_g < due) continue;
    facts.more.push_back({TaskKind::water,
                          {casing.tub},
                          "",
                          std::nullopt,
                          a.gave_g > 2.0 * due,
                          fmt::format("water {}: {}", casing.tub, told(casing, view)),
                          fmt::format("tubwarden water {} AMOUNT", casing.tub)});
  }
  for (const TankView& tank : view.tanks) {
    if (!tank.left_ml || !tank.lasts || *tank.lasts > kTankLow) continue;
    facts.more.push_back({TaskKind::refill,
                          {tub_of_air},
                          "",
                          std::nullopt,
                          *tank.left_ml <= 0.0,
                          "fill the tank of " + told(tank),
                          fmt::format("tubwarden refill {} {}", tub_of_air, tank.actuator)});
  }
}

/// When the book of a tub begins; upkeep that was never done counts from there.
std::optional<WallTime> book_begins(const GrowBook& book, const std::string& tub) {
  std::optional<WallTime> first;
  for (const auto& [key, bed] : book.beds()) {
    if (key.first != tub || bed.phases.empty()) continue;
    const WallTime from = bed.phases.front().from;
    if (!first || from < *first) first = from;
  }
  return first;
}

void add_upkeep(const Warden::State& s, const Tub& tub, WallTime moment, TaskFacts& facts) {
  const std::string& id = tub.plan.id;
  const auto since = book_begins(s.grow.book, id);
  const auto add = [&](Upkeep upkeep) {
    const auto noted = s.grow.book.upkeep().find(upkeep.what + " " + upkeep.of);
    if (noted != s.grow.book.upkeep().end()) {
      upkeep.last = std::max(upkeep.last.value_or(noted->second), noted->second);
    }
    // What was never done is due a period after the tub's first phase.
    const bool young =
        !upkeep.last && (!since || moment < *since + duration_cast<milliseconds>(upkeep.every));
    if (!young) facts.upkeep.push_back(std::move(upkeep));
  };
  const auto drilled = s.grow.drilled.find(id);
  const ChamberPlan* air = s.plan.chamber(tub.plan.chamber);
  if (!air) return;
  if (!air->actuators.empty()) {
    add({kDrilled, id, "drill " + id, kDrillEvery,
         drilled == s.grow.drilled.end() ? std::nullopt : std::optional(drilled->second),
         "tubwarden drill " + id});
  }
  for (const SensorPlan& sensor : air->sensors) {
    const bool drifts = std::any_of(
        sensor.quantities.begin(), sensor.quantities.end(), [](const QuantitySource& q) {
          return q.quantity == Quantity::humidity || q.quantity == Quantity::co2;
        });
    if (!drifts) continue;
    const std::string name = air->id + "/" + sensor.id;
    const bool there = std::any_of(facts.upkeep.begin(), facts.upkeep.end(),
                                   [&](const Upkeep& upkeep) { return upkeep.of == name; });
    if (there) continue;  // tubs that share an air share its sensors
    add({"recalibrated", name, fmt::format("check sensor {} of {}", sensor.id, air->id),
         kRecalibrateEvery, std::nullopt, "tubwarden done recalibrated " + name});
  }
}

Json task_view(const Task& task) {
  return {{"what", name_of(task.kind)}, {"of", task.of},     {"batch", task.batch},
          {"due", time_of(task.due)},   {"late", task.late}, {"text", task.text},
          {"command", task.command}};
}

/// What is off stays in sight until it is back.
void add_off(const Warden::State& s, WallTime moment, TaskFacts& facts) {
  for (const DeskAlert& a : s.alerts_off()) {
    const std::string key = a.alert.key.place + "." + a.alert.key.cause;
    Task task{TaskKind::off, {a.alert.key.place}, "", std::nullopt, false, "", ""};
    task.text =
        fmt::format("{} is off while it is mended{}", key, a.note.empty() ? "" : ": " + a.note);
    task.command = "tubwarden alerts back " + key;
    if (a.off_since) task.due = moment - duration_cast<milliseconds>(s.now() - *a.off_since);
    facts.more.push_back(std::move(task));
  }
}

/// The channels that a message of the rank `today` goes to at once.
std::vector<std::string> told_of_today(const SiteSettings& site) {
  std::vector<std::string> ids;
  for (const ChannelPlan& channel : site.channels) {
    const auto& ranks = channel.ranks;
    const bool wants = std::find(ranks.begin(), ranks.end(), AlertRank::today) != ranks.end() ||
                       (ranks.empty() && !channel.heartbeat);
    if (wants && !channel.after_unseen) ids.push_back(channel.id);
  }
  return ids;
}

}  // namespace

std::vector<Task> Warden::State::due_at(WallTime moment) const {
  TaskFacts facts;
  facts.now = moment;
  for (const auto& [id, tub] : tubs) {
    if (!tub.plan.profile || !tub.known || tub.known->batch != tub.plan.batch) continue;
    if (const PhasePlan* grain = tub.plan.profile->find(kPhaseGrain)) {
      const TaskWindow window = window_of(grain->expect);
      if (window.late > Duration{0}) facts.grain[tub.plan.batch] = window;
    }
    const PhasePlan* phase = tub.plan.profile->find(tub.known->phase);
    if (phase) {
      facts.phases.push_back({id, tub.plan.batch, tub.known->phase, elapsed(tub),
                              window_of(phase->expect), phase->next});
    }
    add_upkeep(*this, tub, moment, facts);
  }
  for (const auto& [id, air] : airs) {
    if (air->chamber.tubs().empty()) continue;
    add_water(air->chamber.tubs().front().id, air->chamber.water(), facts);
  }
  add_off(*this, moment, facts);
  for (const auto& [id, foreseen] : grow.foreseen) facts.jars[id] = foreseen.jar;
  facts.first_picks = grow.first_picks;
  return tasks(grow.book, facts);
}

void Warden::remember_acts(const std::vector<ActRow>& drills, const std::vector<ActRow>& mornings) {
  for (const ActRow& row : drills) {
    if (row.at.wall_set) state_->grow.drilled[row.tub] = row.at.wall;
  }
  for (const ActRow& row : mornings) {
    if (row.at.wall_set) state_->grow.morning = row.at.wall;
  }
}

void do_today(Asked& asked) {
  Warden::State& s = asked.s;
  if (!s.parts.clock.wall_is_set()) {
    return asked.reply(Error{ErrorCode::unavailable,
                             "the board's clock is not set yet, so nobody knows what is due; ask "
                             "again when it is"});
  }
  s.foresee([&s, reply = std::move(asked.reply)] {
    const WallTime now = s.parts.clock.wall();
    Json rows = Json::array();
    for (const Task& task : s.due_at(now)) rows.push_back(task_view(task));
    reply(Json{{"at", rfc3339(now)}, {"tasks", std::move(rows)}, {"off", off_view(s)}}.dump());
  });
}

void Warden::State::plan_morning() {
  next_morning.reset();
  if (!site || !parts.clock.wall_is_set()) return;
  const auto of_day = seconds(parts.clock.local_second_of_day());
  const WallTime midnight = parts.clock.wall() - of_day;
  if (grow.morning && *grow.morning >= midnight) return;
  const Duration left = minutes(site->morning_minute) - of_day;
  // Beyond that, local time is told anew before, and this is asked again.
  if (left <= parts.clock.local_time_holds()) next_morning = now() + std::max(left, Duration{0});
}

/// What is due by the morning's moment; a start later in the day tells nothing that came since.
void Warden::State::tell_morning() {
  next_morning.reset();
  if (!site || !parts.clock.wall_is_set()) return;
  const WallTime wall = parts.clock.wall();
  const WallTime midnight = wall - seconds(parts.clock.local_second_of_day());
  const WallTime moment = std::min(wall, midnight + minutes(site->morning_minute));
  grow.morning = wall;
  foresee([this, moment, midnight] { send_morning(moment, midnight); });
}

void Warden::State::send_morning(WallTime moment, WallTime midnight) {
  std::vector<Task> due = due_at(moment);
  std::erase_if(due, [&](const Task& task) { return task.due && *task.due > moment; });
  if (due.empty()) return;
  Notice notice;
  notice.key = fmt::format("site.today@{}", midnight.time_since_epoch().count());
  notice.rank = AlertRank::today;
  notice.title = due.size() == 1 ? "today: 1 thing is due"
                                 : fmt::format("today: {} things are due", due.size());
  for (std::size_t i = 0; i < std::min(due.size(), kToldMax); ++i) {
    notice.text += fmt::format("{}{}{}", i ? "\n" : "", due[i].late ? "late: " : "", due[i].text);
  }
  if (due.size() > kToldMax) {
    notice.text += fmt::format("\nand {} more: tubwarden today", due.size() - kToldMax);
  }
  parts.log(notice.title);
  ToldNow told;
  told.entries.push_back(entry("daemon", Act{kMorningTold, "", "", "", notice.title}));
  notice.to = told_of_today(*site);
  to_channels(std::move(notice), told);
  hand_over(std::move(told));
}

}  // namespace tubwarden
