#include <fmt/format.h>

#include <algorithm>

#include "core/climate/fresh_air.hpp"
#include "settings/readers.hpp"

namespace tubwarden {
namespace {

constexpr std::size_t kPhasesMax = 64;

/// keep, keep_above, keep_below: one of them at most, each where it has a meaning.
std::optional<Keep> read_keep(const Section& s, Quantity q) {
  const Measure measure = measure_of(q);
  const int given = int{s.has("keep")} + int{s.has("keep_above")} + int{s.has("keep_below")};
  if (given > 1) {
    s.findings().error(s.node(), "keep, keep_above and keep_below exclude each other; leave one");
    return std::nullopt;
  }
  if (s.has("keep_above") && q != Quantity::humidity) {
    s.findings().error(s.key_at("keep_above"),
                       "'keep_above' is for humidity; allowed here: keep: [low, high]");
    return std::nullopt;
  }
  if (s.has("keep_below") && q != Quantity::co2) {
    s.findings().error(s.key_at("keep_below"),
                       "'keep_below' is for CO2; allowed here: keep: [low, high]");
    return std::nullopt;
  }
  if (const auto both = s.pair("keep", measure)) {
    return Keep{Keep::Form::between, (*both)[0], (*both)[1]};
  }
  if (const auto low = s.amount("keep_above", measure)) {
    return Keep{Keep::Form::above, *low, 100.0};
  }
  if (const auto high = s.amount("keep_below", measure)) {
    return Keep{Keep::Form::below, 0.0, *high};
  }
  return std::nullopt;
}

/// A limit may stand on the band's edge, not inside.
bool inside_band(const Section& warn, const std::optional<Keep>& keep, Measure measure,
                 std::optional<double> limit, bool is_lower, Place at) {
  if (!keep || !limit) return false;
  const bool has_edge = keep->form != (is_lower ? Keep::Form::below : Keep::Form::above);
  const double edge = is_lower ? keep->low : keep->high;
  if (!has_edge || (is_lower ? *limit <= edge : *limit >= edge)) return false;
  warn.findings().error(
      at, fmt::format("the warning {} {} lies inside the band, which {} at {}; allowed: {} {}",
                      is_lower ? "below" : "above", amount_text(*limit, measure),
                      is_lower ? "begins" : "ends", amount_text(edge, measure),
                      amount_text(edge, measure), is_lower ? "or lower" : "or higher"));
  return true;
}

/// An alert that is over only deep in the band, or nowhere, would stand for ever.
void check_deadband(const Section& warn, const std::optional<Keep>& keep, Measure measure,
                    const Warn& told) {
  if (!warn.has("deadband")) return;
  double room = told.below && told.above ? (*told.above - *told.below) / 2.0 : 0.0;
  bool bound = room > 0.0;
  const auto narrower = [&](double to_band) {
    room = bound ? std::min(room, to_band) : to_band;
    bound = true;
  };
  if (keep && told.below && keep->form != Keep::Form::below) narrower(keep->low - *told.below);
  if (keep && told.above && keep->form != Keep::Form::above) narrower(*told.above - keep->high);
  if (told.deadband >= 0.0 && (!bound || told.deadband <= room)) return;
  warn.findings().error(
      warn.at("deadband"),
      fmt::format("an alert with a deadband of {} is over only inside the band, or never; allowed: "
                  "0 to {}",
                  amount_text(told.deadband, measure), amount_text(room, measure)));
}

std::optional<Warn> read_warn(const Section& quantity, Measure measure,
                              const std::optional<Keep>& keep) {
  const auto s = quantity.section("warn");
  if (!s) return std::nullopt;
  const bool outside = s->has("outside"), sides = s->has("below") || s->has("above");
  if (outside && sides) {
    s->findings().error(s->key_at("outside"),
                        "'outside' says both limits; allowed: it, or below and above");
  } else if (!outside && !sides && !s->has("leaving_within") &&
             s->node().kind == YamlNode::Kind::map) {
    s->findings().error(s->node(),
                        "'warn' needs a limit; allowed: outside: [below, above], below, above");
  }
  Warn warn;
  warn.on_delay = s->duration("on_delay").value_or(minutes(10));
  warn.leaving_within = s->duration("leaving_within");
  warn.off_delay = s->duration("off_delay").value_or(minutes(1));
  warn.deadband = s->difference("deadband", measure).value_or(0.0);
  warn.below = s->amount("below", measure);
  warn.above = s->amount("above", measure);
  if (warn.below && warn.above && *warn.below >= *warn.above) {
    s->findings().error(s->at("below"), "'below' is not under 'above'; nothing would be right");
  }
  Place low_at = s->at("below"), high_at = s->at("above");
  if (const auto both = s->pair("outside", measure)) {
    warn.below = (*both)[0];
    warn.above = (*both)[1];
    low_at = s->at("outside").items[0];
    high_at = s->at("outside").items[1];
  }
  const bool low_inside = inside_band(*s, keep, measure, warn.below, true, low_at);
  const bool high_inside = inside_band(*s, keep, measure, warn.above, false, high_at);
  if (!low_inside && !high_inside) check_deadband(*s, keep, measure, warn);
  return warn;
}

std::optional<QuantityPlan> read_phase_quantity(const Section& phase, Quantity q) {
  const auto s = phase.section(name_of(q));
  if (!s) return std::nullopt;
  QuantityPlan plan;
  plan.keep = read_keep(*s, q);
  plan.warn = read_warn(*s, measure_of(q), plan.keep);
  if (plan.warn && plan.warn->leaving_within && !plan.keep) {
    const auto warn = s->section("warn");
    warn->findings().error(warn->key_at("leaving_within"),
                           "'leaving_within' tells of a band; it goes with a keep only");
  }
  plan.glide = s->duration("glide").value_or(Duration{0});
  if (s->has("glide") && !s->has("keep")) {
    s->findings().error(s->key_at("glide"),
                        "'glide' moves a band; it goes with keep: [low, high] only");
  }
  return plan;
}

Measure measure_of(Derived d) {
  switch (d) {
    case Derived::dew_point:
      return Measure::temperature;
    case Derived::humidity_ratio:
      return Measure::water_ratio;
    case Derived::bed_drying:
      break;
  }
  return Measure::pressure;
}

std::optional<DerivedPlan> read_derived(const Section& phase, Derived d) {
  const auto s = phase.section(name_of(d));
  if (!s) return std::nullopt;
  DerivedPlan plan;
  std::optional<Keep> keep;
  if (const auto both = s->pair("keep", measure_of(d))) {
    plan.keep = Band{(*both)[0], (*both)[1]};
    keep = Keep{Keep::Form::between, (*both)[0], (*both)[1]};
  }
  plan.warn = read_warn(*s, measure_of(d), keep);
  if (plan.warn && plan.warn->leaving_within) {
    const auto warn = s->section("warn");
    warn->findings().error(warn->key_at("leaving_within"),
                           "'leaving_within' is for readings; leave it out of a derived value");
  }
  return plan;
}

/// Each of them is kept through the humidity: there is one mister.
void check_derived(const Section& s, const PhasePlan& phase) {
  std::string_view kept;
  if (phase.of(Quantity::humidity) && phase.of(Quantity::humidity)->keep) kept = "humidity";
  for (Derived d : kAllDerived) {
    if (!phase.of(d) || !phase.of(d)->keep) continue;
    if (kept.empty()) {
      kept = name_of(d);
      continue;
    }
    s.findings().error(
        s.key_at(name_of(d)),
        fmt::format(
            "a phase keeps one of {} and {}, not both, for each is kept by the same mister; "
            "allowed: warn: in one of them",
            kept, name_of(d)));
  }
}

Expect read_expect(const Section& s) {
  Expect expect{s.duration("from"), s.duration("to"), s.duration("late")};
  if (expect.from && expect.to && *expect.from > *expect.to) {
    s.findings().error(s.at("to"), "'to' is shorter than 'from'; allowed: that or longer");
  }
  const auto usual = expect.to ? expect.to : expect.from;
  if (usual && expect.late && *expect.late < *usual) {
    s.findings().error(s.at("late"), "'late' is sooner than usual; allowed: 'to' or longer");
  }
  return expect;
}

LightHours read_light(const Section& s) {
  const auto from = s.minute_of_day("from"), to = s.minute_of_day("to");
  if (from && to && *from == *to) {
    s.findings().error(s.at("to"),
                       "'from' and 'to' are the same; allowed: two times, or no light at all");
  }
  return {from.value_or(0), to.value_or(0)};
}

/// What no phase may ask at once, or ask in vain.
void check_phase(const Section& s, const PhasePlan& phase) {
  const auto keeps = [&](Quantity q) { return phase.of(q) && phase.of(q)->keep; };
  if (keeps(Quantity::air_temperature) && keeps(Quantity::substrate_temperature)) {
    s.findings().error(s.key_at("air_temperature"),
                       "a phase keeps the substrate's or the air's temperature, not both, for "
                       "there is one heater; allowed: warn: in one of them");
  }
  check_derived(s, phase);
  const auto masters = fan_order(phase.name);
  const bool airs = std::find(masters.begin(), masters.end(), FanMaster::co2) != masters.end();
  if (!airs && keeps(Quantity::co2)) {
    const bool casing = phase.name == kPhaseCasing;
    s.findings().error(
        s.key_at("co2"),
        fmt::format("in {} nothing calls for air because of CO2: {}; allowed: warn:", phase.name,
                    casing ? "the case run is kept closed until it is aired for pins"
                           : "the spawn run grows well in its own, and fresh air would dry it"));
  }
  if (phase.name == kPhaseEmpty && s.node().members.size() > 1) {
    s.findings().error(s.node().members[1].first,
                       "the phase empty controls nothing; it takes no other key");
  }
}

PhasePlan read_phase(const YamlNode& node, FileFindings& findings) {
  const Section s(node, "phase", findings);
  PhasePlan phase;
  phase.name = s.text("phase").value_or("");
  for (Quantity q : kAllQuantities) phase.quantities[index_of(q)] = read_phase_quantity(s, q);
  for (Derived d : kAllDerived) phase.derived[index_of(d)] = read_derived(s, d);
  if (const auto air = s.section("fresh_air")) {
    if (const auto least = air->section("at_least")) {
      phase.fresh_air = FreshAirFloor{least->number("changes").value_or(1),
                                      least->duration("every").value_or(minutes(15))};
    }
  }
  if (const auto drying = s.section("drying")) {
    phase.dry_after_watering = drying->duration("after_watering");
    phase.surface_wet_warn = drying->duration("warn_wet_for");
  }
  if (const auto light = s.section("light")) phase.light = read_light(*light);
  if (const auto expect = s.section("expect")) phase.expect = read_expect(*expect);
  if (const auto settle = s.section("settle")) {
    phase.settle_temperature = settle->duration("temperature").value_or(hours(12));
    phase.settle_other = settle->duration("other").value_or(hours(1));
  }
  phase.stage_of = s.text("stage_of").value_or("");
  read_next(s, phase);
  check_phase(s, phase);
  return phase;
}

Place place_of(const YamlNode& item, std::string_view key) {
  for (const auto& [name, value] : item.members) {
    if (name.text == key) return value;
  }
  return item;
}

}  // namespace

Profile read_profile(const YamlNode& tree, FileFindings& findings) {
  const Section s(tree, "profile", findings);
  Profile profile;
  profile.name = s.text("profile").value_or("");
  const auto items = s.list("phases");
  if (s.has("phases") && (items.empty() || items.size() > kPhasesMax)) {
    findings.error(s.at("phases"), fmt::format("a profile has 1 to {} phases; here are {}",
                                               kPhasesMax, items.size()));
    return profile;
  }
  for (const YamlNode* item : items) {
    PhasePlan phase = read_phase(*item, findings);
    if (!phase.name.empty() && profile.find(phase.name)) {
      findings.error(place_of(*item, "phase"),
                     fmt::format("phase '{}' stands here a second time; keep one", phase.name));
    }
    profile.phases.push_back(std::move(phase));
  }
  for (std::size_t i = 0; i < items.size(); ++i) {
    check_next(profile, profile.phases[i], *items[i], findings);
    check_loop(profile, profile.phases[i], *items[i], findings);
  }
  return profile;
}

}  // namespace tubwarden
