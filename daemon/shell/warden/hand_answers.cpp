#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "settings/amount.hpp"
#include "shell/warden/asked.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// Hands in a tub for longer than this have forgotten it.
constexpr Duration kAttendLongest = hours(4);
constexpr Duration kHandShortest = seconds(10);
/// Without a longest run of its own an output is tried for no longer than this.
constexpr Duration kTrialLongest = minutes(10);
constexpr Duration kTrialShortest = milliseconds(100);

std::optional<Error> out_of(Duration given, Duration least, Duration most, const char* what) {
  if (given >= least && given <= most) return std::nullopt;
  return Error{ErrorCode::bad_input, fmt::format("{} of {}: allowed are {} to {}", what,
                                                 spoken(given), spoken(least), spoken(most))};
}

/// The tub and air a request is about, or nothing after answering.
struct Place {
  Tub* tub;
  Air* air;
};
std::optional<Place> place_named(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return std::nullopt;
  const auto air = asked.s.airs.find(tub->plan.chamber);
  if (air == asked.s.airs.end()) {
    asked.reply(Error{ErrorCode::unavailable, "the tub's chamber has no whole configuration"});
    return std::nullopt;
  }
  return Place{tub, air->second.get()};
}

const ActuatorPlan* actuator_named(Asked& asked, const Air& air) {
  const std::string id = asked.args.text("actuator");
  std::vector<std::string> known;
  for (const ActuatorPlan& a : air.chamber.plan().actuators) {
    if (a.id == id) return &a;
    known.push_back(a.id);
  }
  asked.reply(unknown("actuator", id, known));
  return nullptr;
}

std::optional<Duration> duration_named(Asked& asked, Duration least, Duration most,
                                       const char* what) {
  const auto given = parse_duration(asked.args.text("for"));
  if (!given.ok()) {
    asked.reply(given.error());
    return std::nullopt;
  }
  if (auto error = out_of(*given, least, most, what)) {
    asked.reply(*error);
    return std::nullopt;
  }
  return *given;
}

const Hand* standing(const Air& air, HandKind kind, const std::string& actuator = "") {
  for (const Hand& h : air.chamber.hands()) {
    if (h.kind == kind && h.actuator == actuator) return &h;
  }
  return nullptr;
}

void end_early(Asked& asked, const Place& place, const Hand& hand, const std::string& text) {
  const Hand over = hand;  // the step below drops the original
  asked.s.step(*place.air, event::HandOff{over.kind, over.actuator});
  append_and_tell(asked, {asked.s.entry(asked.who, asked.s.ended(*place.air, over, text))}, text);
}

HandTaken taken(const Place& place, HandKind kind, const std::string& actuator, Level level,
                Duration lasts, const std::string& text) {
  const std::string batch = place.tub->known ? place.tub->known->batch : "";
  return {place.tub->plan.id, place.tub->plan.chamber, batch, kind, actuator, level, lasts, text};
}

/// "; it shares closet with tub-2, whose outputs these are too"
std::string shared_with(const Place& place) {
  std::vector<std::string> others;
  for (const TubPlan& tub : place.air->chamber.tubs()) {
    if (tub.id != place.tub->plan.id) others.push_back(tub.id);
  }
  if (others.empty()) return "";
  return fmt::format("; {} in {} with it", fmt::join(others, " and "), place.tub->plan.chamber);
}

}  // namespace

void do_attend(Asked& asked) {
  const auto place = place_named(asked);
  if (!place) return;
  const std::string& tub = place->tub->plan.id;
  if (asked.args.text("for") == "end") {
    const Hand* hand = standing(*place->air, HandKind::attend);
    if (!hand) {
      return asked.reply(Error{ErrorCode::refused, "no hands are in " + tub + ", as far as said"});
    }
    return end_early(asked, *place, *hand, "hands are out of " + tub + "; its phase goes on");
  }
  const auto lasts = duration_named(asked, kHandShortest, kAttendLongest, "hands in the tub");
  if (!lasts) return;
  const std::string text =
      fmt::format("hands in {} for {}: its outputs rest and alerts are quiet{}", tub,
                  spoken(*lasts), shared_with(*place));
  asked.s.step(*place->air,
               event::HandOn{{HandKind::attend, "", kRest, asked.s.now() + *lasts, tub}});
  asked.s.parts.log(text);
  append_and_tell(
      asked, {asked.s.entry(asked.who, taken(*place, HandKind::attend, "", kRest, *lasts, text))},
      text);
}

void do_keep_at(Asked& asked) {
  const auto place = place_named(asked);
  if (!place) return;
  const ActuatorPlan* plan = actuator_named(asked, *place->air);
  if (!plan) return;
  const std::string level = asked.args.text("level");
  if (level == "end") {
    const Hand* hand = standing(*place->air, HandKind::keep_at, plan->id);
    if (!hand) {
      return asked.reply(Error{ErrorCode::refused, plan->id + " is not kept at anything by hand"});
    }
    return end_early(asked, *place, *hand, plan->id + " is the phase's again");
  }
  if (level != "rest" && level != "run") {
    return asked.reply(Error{ErrorCode::bad_input,
                             "an output is kept at 'rest' or 'run', or its hold is ended with "
                             "'end'; '" +
                                 level + "' is none of these"});
  }
  const auto lasts = duration_named(asked, kHandShortest, kHandLongest, "a hold");
  if (!lasts) return;
  const Level at = level == "run" ? kRun : kRest;
  asked.s.step(*place->air, event::HandOn{{HandKind::keep_at, plan->id, at, asked.s.now() + *lasts,
                                           place->tub->plan.id}});
  std::string text = fmt::format("{} is kept {} by hand for {}", plan->id,
                                 at == kRest ? "at rest" : "running", spoken(*lasts));
  const auto entry =
      asked.s.entry(asked.who, taken(*place, HandKind::keep_at, plan->id, at, *lasts, text));
  asked.s.parts.log(place->tub->plan.id + ": " + text);
  for (const ActuatorView& view : place->air->chamber.actuators(asked.s.now())) {
    if (view.id == plan->id) text += "; now " + view.why;
  }
  append_and_tell(asked, {entry}, text);
}

namespace {

/// Why this output cannot be tried for so long, if it cannot.
std::optional<Error> untriable(const Place& place, const ActuatorPlan& plan, Duration run,
                               const std::map<OutputId, TrialAtWork>& trials) {
  const std::string& id = plan.id;
  if (standing(*place.air, HandKind::attend)) {
    return Error{ErrorCode::refused,
                 fmt::format("hands are in {}; end that first: tubwarden attend {} end",
                             place.tub->plan.id, place.tub->plan.id)};
  }
  for (const auto& [output, trial] : trials) {
    if (output.chamber != place.air->chamber.plan().id || trial.verdict) continue;
    return Error{ErrorCode::refused,
                 fmt::format("{} is being tried in this air; what it does would mix with {}",
                             output.actuator, id)};
  }
  if (run < plan.limits.shortest_run) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{} runs for at least {} (its shortest run); try it for that long", id,
                             spoken(plan.limits.shortest_run))};
  }
  if (plan.limits.longest_run > Duration{0} && run > plan.limits.longest_run) {
    return Error{ErrorCode::bad_input, fmt::format("{} runs for at most {} (its longest run)", id,
                                                   spoken(plan.limits.longest_run))};
  }
  return std::nullopt;
}

ActuatorView view_of(const Asked& asked, const Air& air, const std::string& id) {
  const auto views = air.chamber.actuators(asked.s.now());
  return *std::find_if(views.begin(), views.end(), [&](const auto& v) { return v.id == id; });
}

}  // namespace

void do_try(Asked& asked) {
  const auto place = place_named(asked);
  if (!place) return;
  const ActuatorPlan* found = actuator_named(asked, *place->air);
  if (!found) return;
  const ActuatorPlan plan = *found;
  const auto run = duration_named(asked, kTrialShortest, kTrialLongest, "a trial");
  if (!run) return;
  if (auto error = untriable(*place, plan, *run, asked.s.trials)) return asked.reply(*error);
  if (view_of(asked, *place->air, plan.id).level > kRest) {
    return asked.reply(Error{
        ErrorCode::refused,
        fmt::format("{} runs already: {}", plan.id, view_of(asked, *place->air, plan.id).why)});
  }
  bool confirms = false;
  for (const HostView& host : asked.s.parts.drivers.hosts()) {
    if (host.id == plan.output.id) confirms = host.confirms;
  }
  const std::string& tub = place->tub->plan.id;
  // A drill cuts the run off and watches for itself.
  const bool watched = !asked.args.yes("unwatched");
  if (watched) asked.s.begin_trial(*place->air, tub, plan, confirms, *run);
  asked.s.step(*place->air,
               event::HandOn{{HandKind::trial, plan.id, kRun, asked.s.now() + *run, tub}});
  const ActuatorView now = view_of(asked, *place->air, plan.id);
  if (now.level == kRest) {
    if (watched) asked.s.trials.erase(plan.output.id);
    asked.s.step(*place->air, event::HandOff{HandKind::trial, plan.id});
    return asked.reply(Error{ErrorCode::refused, plan.id + " cannot be tried now: " + now.why});
  }
  const std::string text = fmt::format("{} is tried for {}", plan.id, spoken(*run));
  asked.s.parts.log(tub + ": " + text);
  append_and_tell(
      asked, {asked.s.entry(asked.who, taken(*place, HandKind::trial, plan.id, kRun, *run, text))},
      text + (watched ? "; the air is watched" : ""));
}

/// A drill that a grower has done: its outcome, into the record.
void do_drilled(Asked& asked) {
  constexpr std::size_t longest = 2000;
  const auto place = place_named(asked);
  if (!place) return;
  const std::string outcome = asked.args.text("text");
  if (outcome.empty() || outcome.size() > longest) {
    return asked.reply(Error{ErrorCode::bad_input,
                             fmt::format("a drill has an outcome of 1 to {} bytes", longest)});
  }
  const std::string batch = place->tub->known ? place->tub->known->batch : "";
  asked.s.parts.log(place->tub->plan.id + ": drill: " + outcome);
  if (asked.s.parts.clock.wall_is_set()) {
    asked.s.grow.drilled[place->tub->plan.id] = asked.s.parts.clock.wall();
  }
  append_and_tell(
      asked,
      {asked.s.entry(asked.who, Act{kDrilled, place->tub->plan.id, place->tub->plan.chamber, batch,
                                    "drill: " + outcome})},
      "the drill is in the record");
}

/// How the trial of an output stands.
void do_trial(Asked& asked) {
  const auto place = place_named(asked);
  if (!place) return;
  const ActuatorPlan* plan = actuator_named(asked, *place->air);
  if (!plan) return;
  const auto found = asked.s.trials.find(plan->output.id);
  if (found == asked.s.trials.end()) {
    return asked.reply(Error{ErrorCode::not_found, plan->id + " has not been tried since the "
                                                              "daemon's start"});
  }
  const TrialAtWork& trial = found->second;
  const Duration left = std::max(Duration{0}, trial.watch.over_at() - asked.s.now());
  asked.reply(Json{{"over", trial.verdict.has_value()},
                   {"good", trial.watch.good()},
                   {"left_s", trial.verdict ? 0.0 : seconds_of(left)},
                   {"text", trial.verdict.value_or(trial.watch.told())}}
                  .dump());
}

}  // namespace tubwarden
