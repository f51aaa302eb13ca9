// How a phase ends by its plan: `next`, and the loop of flushes.
#include <fmt/format.h>

#include "settings/readers.hpp"

namespace tubwarden {
namespace {

std::optional<NextCondition> read_condition(const Section& when, Quantity q) {
  const auto s = when.section(name_of(q));
  if (!s) return std::nullopt;
  NextCondition condition;
  condition.below = s->amount("below", measure_of(q));
  condition.above = s->amount("above", measure_of(q));
  condition.lasting = s->duration("for").value_or(minutes(10));
  if (!s->has("below") && !s->has("above") && s->node().kind == YamlNode::Kind::map) {
    s->findings().error(s->node(), "a condition needs a limit; allowed: below, above");
  }
  if (condition.below && condition.above && *condition.above >= *condition.below) {
    s->findings().error(s->at("above"),
                        "'above' is not under 'below'; with both it must be between them, and "
                        "nothing would be");
  }
  return condition;
}

std::vector<std::string> names_in(const Profile& profile) {
  std::vector<std::string> names;
  for (const PhasePlan& phase : profile.phases) names.push_back(phase.name);
  return names;
}

Place value_place(const YamlNode& item, std::string_view key) {
  for (const auto& [name, value] : item.members) {
    if (name.text == key) return value;
  }
  return item;
}

}  // namespace

/// `next: casing`, or the section that says when.
void read_next(const Section& phase, PhasePlan& plan) {
  if (phase.at("next").kind != YamlNode::Kind::map || !phase.has("next")) {
    plan.next = phase.text("next").value_or("");
    return;
  }
  const Section s = *phase.section("next");
  plan.next = s.text("phase").value_or("");
  plan.next_plan.after = s.duration("after");
  if (const auto when = s.section("when")) {
    for (Quantity q : kAllQuantities) {
      plan.next_plan.when[index_of(q)] = read_condition(*when, q);
    }
    if (when->node().kind == YamlNode::Kind::map && when->node().members.empty()) {
      s.findings().error(s.key_at("when"), "'when' names no reading; leave it out, or say one");
    }
  }
  const bool goes = s.text("how").value_or("ask") == "go";
  plan.next_plan.how = goes ? NextPlan::How::go : NextPlan::How::ask;
  if (!s.has("after") && !s.has("when")) {
    s.findings().error(s.node(),
                       "'next' does not say when; allowed: after, when, or both, or the "
                       "name of the phase alone");
  }
  if (goes && plan.next == kPhaseEmpty) {
    s.findings().error(s.at("how"),
                       "nothing goes on to empty by itself, where nothing is kept and "
                       "nothing alerts; allowed: ask");
  }
}

void check_next(const Profile& profile, const PhasePlan& phase, const YamlNode& item,
                FileFindings& findings) {
  const auto place = [&] {
    for (const auto& [name, value] : item.members) {
      if (name.text != "next") continue;
      return value.kind == YamlNode::Kind::map ? value_place(value, "phase") : Place(value);
    }
    return Place(item);
  };
  if (phase.name == "next") {
    findings.error(value_place(item, "phase"),
                   "'next' is the word for whatever follows; allowed: any other name");
  }
  if (phase.next.empty()) return;
  if (phase.next == phase.name) {
    findings.error(place(), fmt::format("{} goes on to itself; allowed: another phase, or to leave "
                                        "'next' out",
                                        phase.name));
  } else if (phase.next != kPhaseEmpty && !profile.find(phase.next)) {
    findings.error(place(), fmt::format("{} has no phase '{}'; {}", profile.name, phase.next,
                                        known_words(phase.next, names_in(profile))));
  }
}

/// A loop begins with a phase of its own, and its stages are of no other.
void check_loop(const Profile& profile, const PhasePlan& phase, const YamlNode& item,
                FileFindings& findings) {
  if (phase.stage_of.empty()) return;
  const Place at = value_place(item, "stage_of");
  const PhasePlan* head = profile.find(phase.stage_of);
  const auto no_crop = [](const std::string& name) {
    return name == kPhaseGrain || name == kPhaseEmpty;
  };
  if (head == nullptr) {
    findings.error(at, fmt::format("{} has no phase '{}'; {}", profile.name, phase.stage_of,
                                   known_words(phase.stage_of, names_in(profile))));
  } else if (head == &phase) {
    findings.error(at, "a loop begins with this phase already; leave 'stage_of' out");
  } else if (!head->stage_of.empty()) {
    findings.error(at, fmt::format("{} is itself a stage of {}; allowed: {}", head->name,
                                   head->stage_of, head->stage_of));
  } else if (no_crop(phase.name) || no_crop(head->name)) {
    findings.error(at, fmt::format("{} has no flushes; allowed: to leave 'stage_of' out",
                                   no_crop(phase.name) ? phase.name : head->name));
  }
}

}  // namespace tubwarden
