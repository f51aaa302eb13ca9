// The plan that goes on by itself, the flush a tub is in, and the climate each phase kept.

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/climate/flush.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {
namespace {

/// So long the grower is told that the plan went on; then it is old news.
constexpr Duration kWentOnTold = hours(12);

AlertKey went_on(const std::string& tub) { return {tub, "phase_went_on"}; }

}  // namespace

int Warden::State::flush_of(const Tub& tub) const {
  if (!tub.known || !tub.plan.profile || tub.known->batch != tub.plan.batch) return 0;
  return flush_in(*tub.plan.profile, tub.known->phase, tub.known->entered);
}

int Warden::State::flush_shown(const Tub& tub) const {
  const int flush = flush_of(tub);
  const Bed* bed = flush > 0 ? grow.book.bed(tub.plan.id, tub.known->batch) : nullptr;
  return bed && !bed->flushes.empty() ? std::max(flush, bed->flushes.back().number) : flush;
}

/// What the air has summed up since it was last asked joins what is known of the phase.
void Warden::State::take_kept(Tub& tub) {
  const auto air = airs.find(tub.plan.chamber);
  if (air == airs.end() || !air->second) return;
  const KeptSums more = air->second->chamber.take_kept(tub.plan.id, now());
  if (tub.known && tub.known->batch == tub.plan.batch) tub.kept.join(more);
}

/// Of the phase that the tub is in, to be told as it ends.
PhaseKept Warden::State::kept_so_far(Tub& tub) {
  take_kept(tub);
  return {tub.plan.id, tub.known->batch, tub.known->phase, flush_of(tub), elapsed(tub), tub.kept};
}

/// The phase ends. One that is taken back never was: what it kept joins the phase it came from.
void Warden::State::end_kept(Tub& tub, bool taken_back, const std::string& who,
                             std::vector<Entry>& entries) {
  PhaseKept kept = kept_so_far(tub);
  if (taken_back) {
    tub.kept = tub.previous_kept.value_or(KeptSums{});
    tub.kept.join(kept.kept);
    tub.previous_kept.reset();
  } else {
    tub.previous_kept = kept.kept;
    tub.kept = {};
    entries.push_back(entry(who, std::move(kept)));
  }
  forget_went_on(tub.plan.id);
}

void Warden::State::keep_climate(Tub& tub) {
  if (!tub.known || tub.known->transition == 0 || tub.known->batch != tub.plan.batch) return;
  parts.record.kept_now({tub.known->transition, kept_so_far(tub)});
}

/// Goes on where a plan says so. Behind the turn: an air is not told anew from inside its step.
void Warden::State::follow_plans() {
  for (const PhaseDue& due : std::exchange(plans_due, {})) {
    const auto found = tubs.find(due.tub);
    if (found == tubs.end() || !found->second.known || !found->second.plan.profile) continue;
    Tub& tub = found->second;
    const PhasePlan* phase = tub.plan.profile->find(tub.known->phase);
    const bool stands = phase != nullptr && phase->next == due.to && !phase_of(tub).asks_only &&
                        tub.known->batch == tub.plan.batch;
    if (!stands) continue;  // somebody was quicker
    const std::string id = due.tub, from = tub.known->phase;
    auto entries = transition(tub, due.to, PhaseCause::plan, "daemon", due.why, std::nullopt);
    announce(tub);
    publish_phase(tub, "plan");
    const int flush = flush_of(tub);
    const std::string text =
        fmt::format("{}: {} -> {}{} by its plan, as {}.", id, from, due.to,
                    flush > 0 ? fmt::format(", flush {},", flush) : "", due.why);
    parts.log(text);
    append(std::move(entries), [this, id](auto result) {
      if (result.ok() && !result->empty()) remember_entry(id, result->back());
    });
    forget_went_on(id);
    judge_site(went_on(id), true, Duration{0}, AlertRank::noted,
               text + fmt::format(" Not yet? tubwarden phase {} {}", id, from));
  }
}

void Warden::State::forget_went_on(const std::string& tub) {
  judge_site(went_on(tub), false, Duration{0}, AlertRank::noted,
             fmt::format("{}: its plan went on some time ago.", tub));
}

/// Each checkpoint: what is old news is taken back.
void Warden::State::age_went_on() {
  for (const auto& [id, tub] : tubs) {
    if (elapsed(tub) >= kWentOnTold) forget_went_on(id);
  }
}

}  // namespace tubwarden
