#include <fmt/format.h>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

std::string in_unit(double value, Quantity q) { return fmt::format("{:g} {}", value, unit_of(q)); }

/// keep, keep_above, keep_below: one of them at most, each where it has a meaning.
std::optional<Keep> read_keep(const Section& s, Quantity q) {
  const Measure measure = measure_of(q);
  const int given = int{s.has("keep")} + int{s.has("keep_above")} + int{s.has("keep_below")};
  if (given > 1) {
    s.findings().error(s.node(), "keep, keep_above and keep_below exclude each other; keep one");
    return std::nullopt;
  }
  if (s.has("keep_above") && q != Quantity::humidity) {
    s.findings().error(s.key_at("keep_above"),
                       "keep_above is for humidity; for others write keep: [low, high]");
    return std::nullopt;
  }
  if (s.has("keep_below") && q != Quantity::co2) {
    s.findings().error(s.key_at("keep_below"),
                       "keep_below is for CO2; for others write keep: [low, high]");
    return std::nullopt;
  }
  if (const auto both = s.pair("keep", measure)) {
    return Keep{Keep::Form::between, (*both)[0], (*both)[1]};
  }
  if (const auto low = s.has("keep_above") ? s.amount("keep_above", measure) : std::nullopt) {
    return Keep{Keep::Form::above, *low, 100.0};
  }
  if (const auto high = s.has("keep_below") ? s.amount("keep_below", measure) : std::nullopt) {
    return Keep{Keep::Form::below, 0.0, *high};
  }
  return std::nullopt;
}

std::optional<Warn> read_warn(const Section& quantity, Quantity q) {
  const auto s = quantity.section("warn", "warn");
  if (!s) return std::nullopt;
  const Measure measure = measure_of(q);
  Warn warn;
  if (s->has("outside") && (s->has("below") || s->has("above"))) {
    s->findings().error(s->node(), "outside says both limits; leave below and above away");
  }
  if (const auto both = s->pair("outside", measure)) {
    warn.below = (*both)[0];
    warn.above = (*both)[1];
  }
  if (s->has("below")) warn.below = s->amount("below", measure);
  if (s->has("above")) warn.above = s->amount("above", measure);
  warn.on_delay = s->duration("on_delay").value_or(minutes(10));
  if (!warn.below && !warn.above && s->findings().errors() == 0) {
    s->findings().error(s->node(), "warn needs a limit: outside: [below, above], below or above");
  }
  return warn;
}

void check_warn_outside_band(const Section& s, Quantity q, const QuantityPlan& plan) {
  if (!plan.keep || !plan.warn) return;
  const bool low = plan.keep->form != Keep::Form::below;
  const bool high = plan.keep->form != Keep::Form::above;
  if (low && plan.warn->below && *plan.warn->below > plan.keep->low) {
    s.findings().error(s.at("warn"),
                       fmt::format("the warning below {} lies inside the band, which begins at {}; "
                                   "put it at or under that",
                                   in_unit(*plan.warn->below, q), in_unit(plan.keep->low, q)));
  }
  if (high && plan.warn->above && *plan.warn->above < plan.keep->high) {
    s.findings().error(
        s.at("warn"),
        fmt::format("the warning above {} lies inside the band, which ends at {}; put "
                    "it at or over that",
                    in_unit(*plan.warn->above, q), in_unit(plan.keep->high, q)));
  }
}

void check_range(const Section& s, std::string_view key, Quantity q, const QuantityPlan& plan) {
  const double low =
      q == Quantity::air_temperature || q == Quantity::substrate_temperature ? -10 : 0;
  const double high = q == Quantity::humidity ? 100 : q == Quantity::co2 ? 50000 : 45;
  const auto fits = [&](double v) { return v >= low && v <= high; };
  const bool keep_fits = !plan.keep || (fits(plan.keep->low) && fits(plan.keep->high));
  const bool warn_fits =
      !plan.warn || (fits(plan.warn->below.value_or(low)) && fits(plan.warn->above.value_or(high)));
  if (keep_fits && warn_fits) return;
  s.findings().error(s.node(), fmt::format("a limit of {} is out of range; allowed: {} to {}", key,
                                           in_unit(low, q), in_unit(high, q)));
}

std::optional<QuantityPlan> read_phase_quantity(const Section& phase, Quantity q) {
  const std::string_view key = name_of(q);
  const auto s = phase.section(key, "phase_quantity");
  if (!s) return std::nullopt;
  QuantityPlan plan;
  plan.keep = read_keep(*s, q);
  plan.warn = read_warn(*s, q);
  plan.glide = s->duration("glide").value_or(Duration{0});
  if (plan.glide > Duration{0} && plan.keep && plan.keep->form != Keep::Form::between) {
    s->findings().error(s->key_at("glide"), "glide goes with keep: [low, high] only");
  }
  check_warn_outside_band(*s, q, plan);
  check_range(*s, key, q, plan);
  return plan;
}

PhasePlan read_phase(const YamlNode& node, FileFindings& findings) {
  const Section s(node, "phase", findings);
  PhasePlan phase;
  phase.name = s.text("phase").value_or("");
  for (Quantity q : kAllQuantities) phase.quantities[index_of(q)] = read_phase_quantity(s, q);
  if (const auto air = s.section("fresh_air", "fresh_air")) {
    if (const auto least = air->section("at_least", "at_least")) {
      FreshAirFloor floor;
      floor.changes = least->number("changes").value_or(1);
      floor.every = least->duration("every").value_or(minutes(15));
      phase.fresh_air = floor;
    }
  }
  if (const auto light = s.section("light", "light")) {
    phase.light = LightHours{light->minute_of_day("from").value_or(0),
                             light->minute_of_day("to").value_or(0)};
  }
  if (const auto expect = s.section("expect", "expect")) {
    phase.expect = {expect->duration("from"), expect->duration("to"), expect->duration("late")};
  }
  if (const auto settle = s.section("settle", "settle")) {
    phase.settle_temperature = settle->duration("temperature").value_or(hours(12));
    phase.settle_other = settle->duration("other").value_or(hours(1));
  }
  phase.next = s.has("next") ? s.text("next").value_or("") : "";

  const auto keeps = [&](Quantity q) { return phase.of(q) && phase.of(q)->keep; };
  if (keeps(Quantity::air_temperature) && keeps(Quantity::substrate_temperature)) {
    findings.error(
        s.key_at("air_temperature"),
        "a phase keeps the substrate's or the air's temperature, not both; let the other "
        "only warn");
  }
  const bool closed = phase.name == kPhaseGrain || phase.name == kPhaseColonization;
  if (closed && keeps(Quantity::co2)) {
    findings.error(
        s.key_at("co2"),
        fmt::format("in {} CO2 has no upper call for air: the spawn run tolerates it high; "
                    "warn instead of keep_below",
                    phase.name));
  }
  if (phase.name == kPhaseEmpty && node.members.size() > 1) {
    findings.error(node, "the phase empty controls nothing; it takes no other key");
  }
  return phase;
}

}  // namespace

Measure measure_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return Measure::humidity;
    case Quantity::air_temperature:
    case Quantity::substrate_temperature:
      return Measure::temperature;
    case Quantity::co2:
      break;
  }
  return Measure::co2;
}

Profile read_profile(const YamlNode& tree, FileFindings& findings) {
  const Section s(tree, "profile", findings);
  Profile profile;
  profile.name = s.text("profile").value_or("");
  std::vector<std::string> names;
  for (const YamlNode* item : s.list("phases")) {
    PhasePlan phase = read_phase(*item, findings);
    if (profile.find(phase.name)) {
      findings.error(*item, fmt::format("phase '{}' stands here a second time", phase.name));
    }
    names.push_back(phase.name);
    profile.phases.push_back(std::move(phase));
  }
  const auto items = s.list("phases");
  for (std::size_t i = 0; i < items.size(); ++i) {
    const std::string& next = profile.phases[i].next;
    if (next.empty() || profile.find(next)) continue;
    findings.error(*items[i], fmt::format("next: no phase is called '{}'; {}", next,
                                          known_words(next, names)));
  }
  return profile;
}

}  // namespace tubwarden
