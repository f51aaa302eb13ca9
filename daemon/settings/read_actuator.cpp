#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "settings/readers.hpp"

namespace tubwarden {
namespace {

Effect effect_named(const std::string& name) {
  for (Effect effect : {Effect::humidify, Effect::dehumidify, Effect::heat, Effect::cool,
                        Effect::fresh_air, Effect::stir, Effect::light}) {
    if (name_of(effect) == name) return effect;
  }
  return Effect::humidify;  // said by the row of the table already
}

Measure rate_measure(Effect effect) {
  switch (effect) {
    case Effect::humidify:
    case Effect::dehumidify:
      return Measure::water_rate;
    case Effect::fresh_air:
    case Effect::stir:
      return Measure::air_rate;
    case Effect::heat:
    case Effect::cool:
    case Effect::light:
      break;
  }
  return Measure::power;
}

/// A bound given here must fit the other one, given or by effect.
RunLimits read_limits(const Section& actuator, Effect effect) {
  RunLimits limits = default_limits(effect);
  const auto s = actuator.section("limits");
  if (!s) return limits;
  limits.shortest_run = s->duration("shortest_run").value_or(limits.shortest_run);
  limits.shortest_rest = s->duration("shortest_rest").value_or(limits.shortest_rest);
  limits.longest_run = s->duration("longest_run").value_or(limits.longest_run);
  limits.starts_per_hour =
      static_cast<int>(s->number("starts_per_hour").value_or(limits.starts_per_hour));
  if (limits.longest_run > Duration{0} && limits.shortest_run > limits.longest_run) {
    const char* given = s->has("shortest_run") ? "shortest_run" : "longest_run";
    s->findings().error(
        s->at(given),
        fmt::format(
            "shortest_run {} is longer than longest_run {}{}; allowed: at most that",
            amount_text(seconds_of(limits.shortest_run), Measure::duration),
            amount_text(seconds_of(limits.longest_run), Measure::duration),
            s->has("shortest_run") && s->has("longest_run") ? "" : " (one of them by effect)"));
  }
  return limits;
}

/// A share of a period, for what keeps the substrate; its runs must fit the limits.
DutyPlan read_duty(const Section& actuator, const ActuatorPlan& plan) {
  DutyPlan duty;
  const auto s = actuator.section("duty");
  if (!s) return duty;
  FileFindings& findings = s->findings();
  if (plan.effect != Effect::heat && plan.effect != Effect::cool && actuator.has("effect")) {
    findings.error(actuator.key_at("duty"), "'duty' is for heat and cool; leave it out here");
  }
  duty.period = s->duration("period").value_or(duty.period);
  if (const auto most = s->amount("most")) duty.most = static_cast<Level>(*most * 10.0 + 0.5);
  const Duration longest = duty.period * static_cast<int>(duty.most) / 1000;
  if (plan.limits.shortest_run > longest) {
    findings.error(
        s->at(s->has("most") ? "most" : "period"),
        fmt::format("the largest share of a period is {}, and no run is shorter than {} (limits: "
                    "shortest_run); allowed: at least that",
                    spoken(longest),
                    amount_text(seconds_of(plan.limits.shortest_run), Measure::duration)));
  }
  const int starts = plan.limits.starts_per_hour;
  if (starts > 0 && starts * duty.period < hours(1)) {
    findings.error(s->at("period"),
                   fmt::format("a period begins more often than {} times an hour (limits: "
                               "starts_per_hour); allowed: at least {}",
                               starts, spoken(std::max(minutes(10), minutes(60) / starts))));
  }
  return duty;
}

/// What is said where a run can outlive the network: details of the fail-safe rules.
void read_fall(const Section& s, ActuatorPlan& plan, const PluginDescription* plugin) {
  const char* key = "falls_by_itself_after";
  FileFindings& findings = s.findings();
  const bool given = s.has(key);
  const bool never = given && s.at(key).text == "never";
  if (given && !never) plan.output.falls_by_itself_after = s.duration(key);
  if (s.has("cut_out")) {
    s.text("cut_out");
    if (plan.effect != Effect::heat && s.has("effect")) {
      findings.error(s.key_at("cut_out"), "'cut_out' is for heaters; leave it out here");
    }
  }
  if (!plugin) return;
  plan.output.network = plugin->network;
  if (!plugin->network) {
    if (!given) return;
    findings.error(s.key_at(key), fmt::format("{} switches an output of this board, which falls by "
                                              "its host; '{}' is for network outputs",
                                              plugin->name, key));
    return;
  }
  if (!given) {
    findings.error(s.node(), fmt::format("a network output needs '{}'; allowed: the relay's own "
                                         "timer (30s), or never where it has none",
                                         key));
  }
  if (!never) return;
  if (plan.effect == Effect::heat && !s.has("cut_out")) {
    findings.error(s.at(key),
                   "a heater that never falls by itself is refused: a lost network would leave it "
                   "on. Allowed: a relay with a timer of its own, or an independent thermal "
                   "cut-out, declared as cut_out: \"what cuts it off\"");
    return;
  }
  findings.warning(
      s.at(key),
      fmt::format("{} has no timer of its own: it {}{}", plan.id,
                  plugin->has_will
                      ? "falls by the broker's will when this board is gone, but goes on running "
                        "when the relay itself is cut off from the broker"
                      : "goes on running when this board is gone, or when it is cut off from it",
                  plan.effect == Effect::heat ? ", until its cut-out stops it" : ""));
}

/// Time proportioning, for drivers that take no level between.
void read_share(const Section& s, ActuatorPlan& plan, const PluginDescription* plugin) {
  OutputPlan& output = plan.output;
  FileFindings& findings = s.findings();
  output.period = s.duration("period");
  if (output.period) {
    output.shortest_run = plan.limits.shortest_run;
    if (2 * output.shortest_run > *output.period) {
      findings.error(
          s.at("period"),
          fmt::format("a period of {} has no room for runs and rests of {} (limits: shortest_run); "
                      "allowed: at least twice that",
                      amount_text(seconds_of(*output.period), Measure::duration),
                      amount_text(seconds_of(output.shortest_run), Measure::duration)));
    }
  }
  if (!plugin) return;
  if (plugin->levels && output.period) {
    findings.error(s.key_at("period"),
                   fmt::format("{} takes levels between itself; leave 'period' out", plugin->name));
  }
  if (plugin->levels || output.safe == kRest || output.safe == kRun) return;
  if (!output.period) {
    findings.error(s.at("safe"), fmt::format("{} knows no level between; allowed for 'safe': rest, "
                                             "run, or a 'period' beside it (period: 60s)",
                                             plugin->name));
    return;
  }
  findings.warning(s.at("safe"), fmt::format("{} runs for its share of each period only while the "
                                             "daemon lives; once that has ended, it rests",
                                             plan.id));
}

void read_blind(const Section& s, ActuatorPlan& plan) {
  plan.cut_out = s.has("cut_out");
  if (s.text("blind").value_or("safe") != "duty") return;
  if (plan.effect == Effect::stir || plan.effect == Effect::light) {
    s.findings().error(s.key_at("blind"),
                       fmt::format("{} follows no reading of its own; leave 'blind' out",
                                   s.has("effect") ? name_of(plan.effect) : "it"));
    return;
  }
  if (plan.effect == Effect::fresh_air) {
    s.findings().error(s.key_at("blind"),
                       "a fan keeps its fresh-air floor without a reading; leave 'blind' out");
    return;
  }
  plan.blind = BlindRule::duty;
}

}  // namespace

ActuatorPlan read_actuator(const YamlNode& node, const PluginCatalogue& plugins, ReadChamber& out,
                           FileFindings& findings) {
  const Section s(node, "actuator", findings);
  ActuatorPlan plan;
  plan.id = s.text("id").value_or("");
  const auto effect = s.text("effect");
  plan.effect = effect_named(effect.value_or(""));
  if (effect) plan.rate = s.amount("rate", rate_measure(plan.effect));
  if (plan.effect == Effect::fresh_air && !s.has("rate")) {
    findings.error(node, "a fan needs its 'rate' (2 m3/h): the fresh-air floor is counted by it");
  }
  plan.power_w = s.amount("power");
  if (const auto litres = s.amount("tank")) plan.tank_ml = *litres * 1000.0;
  if (s.has("tank") && effect && plan.effect != Effect::humidify) {
    findings.error(s.key_at("tank"), "'tank' is for humidify; leave it out here");
  }
  plan.limits = read_limits(s, plan.effect);
  plan.duty = read_duty(s, plan);
  OutputPlan& output = plan.output;
  output.id = {out.plan.id, plan.id};
  output.driver = s.text("driver").value_or("");
  ReadWiring wiring = read_wiring(s, "driver", false, plugins);
  output.wiring_json = std::move(wiring.json);
  if (wiring.claim) {
    wiring.claim->actuator = plan.id;
    out.claims.push_back(*wiring.claim);
  }
  output.safe = s.level("safe").value_or(kRest);
  read_share(s, plan, wiring.plugin);
  output.lease = s.duration("lease").value_or(seconds(15));
  output.own_process = s.flag("own_process").value_or(false);
  read_fall(s, plan, wiring.plugin);
  read_blind(s, plan);
  return plan;
}

}  // namespace tubwarden
