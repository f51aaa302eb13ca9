#include <fmt/format.h>

#include <utility>

#include "core/climate/flush.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {

Duration Warden::State::elapsed(const Tub& tub) const {
  return elapsed_at(tub.mark, tub.mark_elapsed, stamp());
}

std::optional<PhaseKnown> Warden::State::known(const Tub& tub) const {
  if (!tub.known) return std::nullopt;
  const TubRecord& r = *tub.known;
  return PhaseKnown{r.batch, r.phase, r.file_seen, r.previous_phase,
                    elapsed(tub) - r.elapsed_before};
}

/// The truth about a tub, as far as there is one; another batch's phase is none.
TubPhase Warden::State::phase_of(const Tub& tub) const {
  TubPhase phase;
  phase.tub = tub.plan.id;
  if (!tub.known || tub.known->batch != tub.plan.batch) return phase;
  phase.phase = tub.known->phase;
  phase.since = now() - elapsed(tub);
  phase.asks_only = tub.known->asked || tub.known->plan_taken_back;
  for (const GlideStarted& glide : tub.known->glides) {
    phase.glide_from[index_of(glide.quantity)] = glide.value;
  }
  return phase;
}

void Warden::State::announce(const Tub& tub) {
  const auto air = airs.find(tub.plan.chamber);
  if (air != airs.end()) step(*air->second, event::PhaseIs{phase_of(tub)});
}

/// Changes a tub's phase in memory and returns the entries that say so, in one transaction.
std::vector<Entry> Warden::State::transition(Tub& tub, const std::string& to, PhaseCause cause,
                                             const std::string& who, const std::string& note,
                                             std::optional<std::string> file_seen) {
  std::vector<Entry> entries;
  PhaseTransition change;
  change.tub = tub.plan.id;
  change.batch = tub.plan.batch;
  change.to = to;
  change.cause = cause;
  change.note = note;
  change.file_seen = file_seen;

  TubRecord next;
  next.tub = tub.plan.id;
  next.batch = tub.plan.batch;
  next.chamber = tub.plan.chamber;
  next.phase = to;
  next.profile = tub.plan.profile->name;
  next.profile_text = tub.plan.profile->text;
  next.since = stamp();
  next.file_seen = file_seen;
  if (tub.known) {
    const TubRecord& was = *tub.known;
    end_kept(tub, cause == PhaseCause::correction, who, entries);
    change.from = was.phase;
    next.entered = was.entered;
    next.chamber = was.chamber;
    next.place_seen = was.place_seen;
    next.previous_phase = was.phase;
    next.previous_elapsed = elapsed(tub);
    next.previous_transition = was.transition;
    if (!file_seen) next.file_seen = was.file_seen;
    if (cause == PhaseCause::correction) {
      // As if it had never been left: the slip's own minutes belong to the phase it comes back to.
      if (was.transition != 0) change.corrects = was.transition;
      change.elapsed_before = was.previous_elapsed + (elapsed(tub) - was.elapsed_before);
      next.previous_phase.clear();
      next.glides = tub.previous_glides;
      tub.glides_to_note = true;
      --next.entered[was.phase];
      next.plan_taken_back = tub.began_by_plan;
    } else {
      ++next.entered[to];
    }
  } else {
    entries.push_back(
        entry(who, BatchOpened{tub.plan.batch, tub.plan.profile->name, tub.plan.profile->text}));
    entries.push_back(entry(who, Placed{tub.plan.id, tub.plan.chamber, tub.plan.batch}));
    entries.push_back(entry(who, PlaceSeen{tub.plan.id, tub.file_place}));
    next.place_seen = tub.file_place;
    next.entered[to] = 1;
    tub.kept = {};
    tub.previous_kept.reset();
  }
  tub.began_by_plan = cause == PhaseCause::plan;
  change.flush = flush_in(*tub.plan.profile, to, next.entered);
  next.elapsed_before = change.elapsed_before;
  entries.push_back(entry(who, change));
  tub.previous_glides = tub.known ? tub.known->glides : std::vector<GlideStarted>{};
  tub.known = next;
  note_phase(next);
  tub.mark = next.since;
  tub.mark_elapsed = next.elapsed_before;
  return entries;
}

/// The transition's entry is on disk: corrections will name it, and glides that came back with a
/// correction are noted behind it.
void Warden::State::remember_entry(const std::string& id, std::int64_t transition_entry) {
  const auto found = tubs.find(id);
  if (found == tubs.end() || !found->second.known || found->second.known->transition != 0) return;
  Tub& tub = found->second;
  tub.known->transition = transition_entry;
  keep_climate(tub);
  if (!std::exchange(tub.glides_to_note, false) || tub.known->glides.empty()) return;
  std::vector<Entry> entries;
  for (const GlideStarted& glide : tub.known->glides) entries.push_back(entry("daemon", glide));
  append(std::move(entries));
}

/// Holds a tub's file against the record, and does what follows.
void Warden::State::settle(Tub& tub) {
  const std::string& id = tub.plan.id;
  const std::string& says = tub.plan.phase;
  const PhaseVerdict verdict = judge_file(known(tub), {tub.plan.batch, says});
  bool ask = false;
  switch (verdict) {
    case PhaseVerdict::nothing:
      ask = tub.known->asked && tub.known->phase != says;
      break;
    case PhaseVerdict::unconfirmed:
      ask = true;
      break;
    case PhaseVerdict::batch_changed:
      append(
          {entry("file", kept_so_far(tub)), entry("file", PlacementEnded{id, tub.known->batch})});
      tub.kept = {};
      tub.previous_kept.reset();
      tub.known.reset();
      ask = true;
      break;
    case PhaseVerdict::seen:
    case PhaseVerdict::ask:
      ask = verdict == PhaseVerdict::ask;
      tub.known->file_seen = says;
      tub.known->asked = ask;
      append({entry("file", FileSeen{id, tub.plan.batch, says, ask})});
      announce(tub);  // what is asked for is not gone on from
      break;
    case PhaseVerdict::change:
    case PhaseVerdict::correction: {
      const auto cause =
          verdict == PhaseVerdict::change ? PhaseCause::file : PhaseCause::correction;
      const std::string from = tub.known->phase;
      auto entries = transition(tub, says, cause, "file", "", says);
      announce(tub);
      publish_phase(tub, "file");
      parts.log(fmt::format("{}: phase {} -> {} by its file{}", id, from, says,
                            verdict == PhaseVerdict::correction ? " (taken back)" : ""));
      append(std::move(entries), [this, id](auto result) {
        if (result.ok() && !result->empty()) remember_entry(id, result->back());
      });
      break;
    }
  }
  const std::string truth =
      tub.known ? fmt::format("the record says {}", tub.known->phase) : "there is no record of it";
  judge_site(
      {id, "phase_unconfirmed"}, ask, Duration{0}, AlertRank::today,
      ask ? fmt::format("{}: its file says {}, {}. {} Say which with: tubwarden phase {} {}", id,
                        says, truth, tub.known ? "Nothing was switched." : "Its outputs stay safe.",
                        id, says)
          : fmt::format("{}: its phase is confirmed.", id));
}

void Warden::State::checkpoint_all() {
  const Stamp at = stamp();
  for (auto& [id, tub] : tubs) {
    if (!tub.known || tub.known->transition == 0) continue;
    keep_climate(tub);
    // How long the board was off is known once the clock is set: by the mark of before it.
    if (!at.wall_set && tub.mark.wall_set && tub.mark.boot_id != at.boot_id) continue;
    tub.mark_elapsed = elapsed_at(tub.mark, tub.mark_elapsed, at);
    tub.mark = at;
    parts.record.checkpoint(id, tub.known->transition, tub.mark_elapsed, at);
  }
  age_went_on();
  for (const auto& [id, air] : airs) keep_book(*air);
}

/// The clock has just been set: time the board was off joins the phases' time.
void Warden::State::mend_phase_clocks() {
  for (auto& [id, tub] : tubs) {
    if (tub.known && tub.mark.boot_id != parts.clock.boot_id()) announce(tub);
  }
}

}  // namespace tubwarden
