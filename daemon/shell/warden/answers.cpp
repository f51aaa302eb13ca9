#include <fmt/format.h>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

void do_status(Asked& asked) { asked.reply(status_view(asked.s).dump()); }
void do_outputs(Asked& asked) { asked.reply(outputs_view(asked.s).dump()); }

void do_why(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const auto air = asked.s.airs.find(tub->plan.chamber);
  if (air == asked.s.airs.end()) {
    return asked.reply(
        Error{ErrorCode::unavailable, "the tub's chamber has no whole configuration"});
  }
  const std::string actuator = asked.args.text("actuator");
  const Json view = why_view(*air->second, actuator, asked.s.now());
  if (!actuator.empty() && view["lines"].empty()) {
    std::vector<std::string> known;
    for (const ActuatorPlan& a : air->second->chamber.plan().actuators) known.push_back(a.id);
    return asked.reply(unknown("actuator", actuator, known));
  }
  asked.reply(view.dump());
}

Outcome may_enter(const Tub& tub, const std::string& phase) {
  const std::vector<std::string> known = phases_of(tub);
  for (const std::string& name : known) {
    if (name == phase) return Done{};
  }
  if (phase == kPhaseEmpty) return Done{};
  return unknown(
      tub.plan.is_shelf ? "phase of a shelf" : "phase of profile " + tub.plan.profile->name, phase,
      known);
}

Json phase_answer(const Tub& tub, const std::string& from, const std::string& text) {
  return {{"tub", tub.plan.id}, {"batch", tub.plan.batch}, {"from", from}, {"to", tub.known->phase},
          {"entry", nullptr},   {"on_disk", true},         {"text", text}};
}

void do_phase(Asked& asked) {
  Tub* tub = tub_named(asked);
  if (!tub) return;
  Warden::State& s = asked.s;
  const std::string id = tub->plan.id;
  std::string to = asked.args.text("phase");
  const bool onwards = to == "next";
  if (onwards) {
    const PhasePlan* plan = tub->known ? tub->plan.profile->find(tub->known->phase) : nullptr;
    if (plan == nullptr || plan->next.empty()) {
      return asked.reply(
          Error{ErrorCode::refused,
                fmt::format("its plan names nothing that follows{}; say the phase: tubwarden phase "
                            "{} PHASE",
                            tub->known ? " " + tub->known->phase : "", id)});
    }
    to = plan->next;
  }
  if (const Outcome may = may_enter(*tub, to); !may.ok()) return asked.reply(may.error());

  const std::string from = tub->known ? tub->known->phase : "";
  const bool asks = tub->known && tub->known->asked;
  if (from == to && !asks) {
    return asked.reply(phase_answer(*tub, from, fmt::format("{} is in {} already", id, to)).dump());
  }
  std::vector<Entry> entries;
  if (from == to) {
    tub->known->asked = false;
    entries.push_back(s.entry(asked.who, FileSeen{id, tub->plan.batch, tub->plan.phase, false}));
    s.announce(*tub);
  } else {
    const auto known = s.known(*tub);
    // Who says `next` goes on, also round a loop within the time of a slip.
    const PhaseCause cause = !known                               ? PhaseCause::opened
                             : !onwards && takes_back(*known, to) ? PhaseCause::correction
                                                                  : PhaseCause::command;
    entries = s.transition(*tub, to, cause, asked.who, asked.args.text("note"), tub->plan.phase);
    s.announce(*tub);
    s.publish_phase(*tub, asked.who);
  }
  s.judge_site({id, "phase_unconfirmed"}, false, Duration{0}, AlertRank::today,
               fmt::format("{}: its phase is confirmed.", id));
  const std::string text =
      from.empty() ? fmt::format("{} is in {}; batch {} is open", id, to, tub->plan.batch)
      : from == to ? fmt::format("{} stays in {}; its file is noted", id, to)
                   : fmt::format("{}: {} -> {}", id, from, to);
  const Json done = phase_answer(*tub, from, text);
  Json late = done;
  late["on_disk"] = false;
  late["text"] = text + " (done, not yet on disk)";
  s.parts.log(text + " by " + asked.who);
  s.append_and_answer(std::move(entries), late.dump(), std::move(asked.reply),
                      [&s, id, done](std::int64_t entry) {
                        s.remember_entry(id, entry);
                        Json answer = done;
                        answer["entry"] = entry;
                        return answer.dump();
                      });
}

void do_note(Asked& asked) {
  const std::string id = asked.args.text("tub");
  if (!asked.s.tubs.contains(id) && is_of_grow(asked.s.grow.book, id)) {
    return keep_acts(asked, {Observed{id, asked.args.text("text")}}, "noted for " + id);
  }
  Tub* tub = tub_named(asked);
  if (!tub) return;
  const std::string text = asked.args.text("text");
  if (text.empty()) {
    return asked.reply(
        Error{ErrorCode::bad_input, "a note needs words: tubwarden note TUB \"...\""});
  }
  const std::string batch = tub->known ? tub->known->batch : "";
  append_and_tell(
      asked, {asked.s.entry(asked.who, Act{"note", tub->plan.id, tub->plan.chamber, batch, text})},
      "noted for " + tub->plan.id);
}

/// The air of an output by the name of a tub that stands in it, or by its own. A tub may have moved
/// out of the air of its name.
std::string air_of_output(const Warden::State& s, const std::string& name,
                          const std::string& output) {
  const auto tub = s.tubs.find(name);
  if (tub == s.tubs.end()) return s.airs.contains(name) ? name : "";
  const bool its_air = s.reports.contains({tub->second.plan.chamber, output});
  return its_air || !s.reports.contains({name, output}) ? tub->second.plan.chamber : name;
}

void do_release(Asked& asked) {
  const std::string name = asked.args.text("tub");
  const OutputId id{air_of_output(asked.s, name, asked.args.text("id")), asked.args.text("id")};
  if (id.chamber.empty()) {
    std::set<std::string> places;
    for (const auto& [tub, unused] : asked.s.tubs) places.insert(tub);
    for (const auto& [air, unused] : asked.s.airs) places.insert(air);
    return asked.reply(unknown("tub or chamber", name, {places.begin(), places.end()}));
  }
  const auto report = asked.s.reports.find(id);
  if (report == asked.s.reports.end()) {
    std::vector<std::string> known;
    for (const auto& [key, r] : asked.s.reports) {
      if (key.chamber == id.chamber) known.push_back(key.actuator);
    }
    return asked.reply(unknown("output", id.actuator, known));
  }
  if (report->second.health != OutputHealth::failed_safe &&
      report->second.health != OutputHealth::unsafe) {
    return asked.reply(
        Error{ErrorCode::refused,
              fmt::format("{} has not failed safe; there is nothing to release (it is {})",
                          id.actuator, name_of(report->second.health))});
  }
  asked.s.parts.drivers.release(id);
  const auto tub = asked.s.tubs.find(name);
  const bool of_tub = tub != asked.s.tubs.end();
  asked.s.append(
      {asked.s.entry(asked.who, Act{"released", of_tub ? name : "", id.chamber,
                                    of_tub ? tub->second.plan.batch : "",
                                    "output " + id.actuator + " acknowledged and started again"})});
  asked.reply(
      Json{{"text", id.actuator + " is started again; it stands safe until it is commanded"}}
          .dump());
}

void do_batch(Asked& asked) {
  const std::string batch = asked.args.text("batch");
  asked.s.parts.record.timeline(
      batch, kTimelineRowsMax, [batch, reply = std::move(asked.reply)](auto rows) {
        if (!rows.ok()) return reply(rows.error());
        if (rows->empty()) {
          return reply(Error{ErrorCode::not_found, "no batch is called '" + batch +
                                                       "'; `tubwarden batch list` names them"});
        }
        reply(Json{{"batch", batch}, {"rows", timeline_view(*rows)}}.dump());
      });
}

void do_batches(Asked& asked) {
  asked.s.parts.record.batches([reply = std::move(asked.reply)](auto rows) {
    if (!rows.ok()) return reply(rows.error());
    reply(Json{{"rows", timeline_view(*rows)}}.dump());
  });
}

struct Command {
  const char* name;
  void (*perform)(Asked&);
};
constexpr Command kCommands[] = {{"status", do_status},
                                 {"why", do_why},
                                 {"phase", do_phase},
                                 {"batch", do_batch},
                                 {"batches", do_batches},
                                 {"alerts", do_alerts},
                                 {"outputs", do_outputs},
                                 {"release", do_release},
                                 {"note", do_note},
                                 {"decisions", do_decisions},
                                 {"why_at", do_why_at},
                                 {"stays", do_stays},
                                 {"history", do_history},
                                 {"move", do_move},
                                 {"water", do_water},
                                 {"book", do_book},
                                 {"refill", do_refill},
                                 {"attend", do_attend},
                                 {"keep_at", do_keep_at},
                                 {"try", do_try},
                                 {"trial", do_trial},
                                 {"drilled", do_drilled},
                                 {"sync", do_sync},
                                 {"report", do_report},
                                 {"labels", do_labels},
                                 {"kept", do_kept},
                                 {"culture_receive", do_culture_receive},
                                 {"culture_open", do_culture_open},
                                 {"culture_discard", do_culture_discard},
                                 {"cultures", do_cultures},
                                 {"culture", do_culture},
                                 {"sterilise", do_sterilise},
                                 {"substrate_make", do_substrate},
                                 {"jar_add", do_jar_add},
                                 {"jar_inoculate", do_jar_inoculate},
                                 {"jar_look", do_jar_look},
                                 {"jar_shake", do_jar_shake},
                                 {"jar_contaminated", do_jar_contaminated},
                                 {"jar_discard", do_jar_discard},
                                 {"jar_move", do_jar_move},
                                 {"jars", do_jars},
                                 {"jar", do_jar},
                                 {"spawn", do_spawn},
                                 {"case", do_case},
                                 {"pins", do_pins},
                                 {"harvest", do_harvest},
                                 {"clean", do_clean},
                                 {"contaminated", do_contaminated},
                                 {"done", do_done},
                                 {"trace", do_trace},
                                 {"today", do_today},
                                 {"forecast", do_forecast},
                                 {"undo", do_undo},
                                 {"live", do_live},
                                 {"alert_seen", do_alert_seen},
                                 {"alert_quiet", do_alert_quiet},
                                 {"alert_off", do_alert_off},
                                 {"alert_back", do_alert_back},
                                 {"alert_history", do_alert_history},
                                 {"alert_worst", do_alert_worst},
                                 {"alert_test", do_alert_test}};

}  // namespace

void Warden::State::answer(const std::string& what, const std::string& args_json,
                           const std::string& who, Reply reply) {
  const Args args(args_json);
  if (!args.ok()) {
    return reply(
        Error{ErrorCode::bad_input, "args is not a JSON object; allowed: {\"name\": value}"});
  }
  Asked asked{*this, args, who, std::move(reply)};
  for (const Command& command : kCommands) {
    if (what == command.name) return command.perform(asked);
  }
  std::vector<std::string> known;
  for (const Command& command : kCommands) known.emplace_back(command.name);
  asked.reply(unknown("request", what, known));
}

}  // namespace tubwarden
