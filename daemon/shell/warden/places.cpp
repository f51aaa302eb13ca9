#include <fmt/format.h>

#include <algorithm>

#include "base/ensure.hpp"
#include "shell/warden/warden_state.hpp"

namespace tubwarden {

std::string place_words(const std::string& tub, const std::string& chamber) {
  return chamber == tub ? "its own air" : chamber;
}

std::optional<PlaceKnown> Warden::State::place_known(const Tub& tub) const {
  if (!tub.known || tub.known->chamber.empty() || tub.known->batch != tub.plan.batch) {
    return std::nullopt;
  }
  return PlaceKnown{tub.known->chamber, tub.known->place_seen};
}

Standing Warden::State::standing_in(const std::string& chamber) const {
  Standing air{chamber, "", {}};
  if (const ChamberPlan* c = plan.chamber(chamber); c && c->leader_named) {
    air.named_leader = c->leader;
  }
  for (const auto& [id, tub] : tubs) {
    if (tub.plan.chamber == chamber) air.tubs.push_back(id);
  }
  return air;
}

MoveVerdict Warden::State::may_move(const Tub& tub, const std::string& chamber) const {
  const auto owner = tubs.find(chamber);
  const bool own_air = owner != tubs.end() && owner->second.file_place == chamber;
  return judge_move(tub.plan.id, standing_in(tub.plan.chamber), standing_in(chamber), own_air);
}

std::string Warden::State::refusal(const Tub& tub, const std::string& chamber,
                                   MoveVerdict verdict) const {
  const std::string& id = tub.plan.id;
  switch (verdict) {
    case MoveVerdict::moves:
    case MoveVerdict::stays:
      return "";
    case MoveVerdict::leads_others: {
      auto others = standing_in(tub.plan.chamber).tubs;
      std::erase(others, id);
      return fmt::format(
          "{} leads {}, where {} would stay without a leader; name another leader "
          "in chambers/{}.yaml first",
          id, tub.plan.chamber, fmt::join(others, " and "), tub.plan.chamber);
    }
    case MoveVerdict::not_its_own:
      return fmt::format("'{}' is another tub's own air; only that tub stands in it", chamber);
    case MoveVerdict::leader_needed:
      return fmt::format(
          "{} stands in {} already, and one air keeps one phase; name the leader in "
          "chambers/{}.yaml first",
          fmt::join(standing_in(chamber).tubs, " and "), chamber, chamber);
  }
  ENSURE(false);
}

std::vector<Entry> Warden::State::place(Tub& tub, const std::string& chamber,
                                        const std::string& who) {
  const std::string& id = tub.plan.id;
  take_kept(tub);
  TubRecord& known = *tub.known;
  std::vector<Entry> entries = {entry(who, PlacementEnded{id, known.batch, known.chamber}),
                                entry(who, PlaceSeen{id, tub.file_place}),
                                entry(who, Placed{id, chamber, known.batch})};
  // One moment: no reading falls between two stays.
  for (Entry& e : entries) e.stamp = entries.front().stamp;
  parts.log(fmt::format("{}: from {} to {}, by {}", id, place_words(id, known.chamber),
                        place_words(id, chamber), who));
  known.chamber = chamber;
  known.place_seen = tub.file_place;
  tub.plan.chamber = chamber;
  tub.place_trouble.clear();
  return entries;
}

/// Holds every tub's file against where the record has it. One move may make room for another.
void Warden::State::settle_places() {
  for (auto& [id, tub] : tubs) {
    const auto known = place_known(tub);
    tub.plan.chamber = known ? known->chamber : tub.file_place;
    tub.place_trouble.clear();
  }
  for (bool moved = true; moved;) {
    moved = false;
    for (auto& [id, tub] : tubs) moved = settle_place(tub) || moved;
  }
}

/// Whether the tub has moved by its file.
bool Warden::State::settle_place(Tub& tub) {
  const std::string& id = tub.plan.id;
  switch (judge_place(place_known(tub), tub.file_place)) {
    case PlaceVerdict::unplaced:
    case PlaceVerdict::nothing:
      return false;
    case PlaceVerdict::seen:
      tub.known->place_seen = tub.file_place;
      append({entry("file", PlaceSeen{id, tub.file_place})});
      return false;
    case PlaceVerdict::ask:
      tub.place_trouble = fmt::format(
          "{0}: its file says it stands in {1}, the record says {2}. Nothing was "
          "moved. Say which with: tubwarden move {0} {3}",
          id, place_words(id, tub.file_place), place_words(id, tub.known->chamber), tub.file_place);
      return false;
    case PlaceVerdict::move: {
      const MoveVerdict verdict = may_move(tub, tub.file_place);
      if (verdict == MoveVerdict::moves) {
        append(place(tub, tub.file_place, "file"));
        return true;
      }
      tub.place_trouble =
          fmt::format("{}: its file says it stands in {} now, but it stays in {}: {}.", id,
                      place_words(id, tub.file_place), place_words(id, tub.plan.chamber),
                      refusal(tub, tub.file_place, verdict));
      return false;
    }
  }
  ENSURE(false);
}

/// An air where somebody stands by the record goes on without its file; one that is not known at
/// all is said.
void Warden::State::keep_airs_in_use(const std::vector<ChamberPlan>& before) {
  const auto whole = plan.chambers;
  const auto in = [](const std::vector<ChamberPlan>& chambers, const std::string& id) {
    return std::find_if(chambers.begin(), chambers.end(),
                        [&](const ChamberPlan& c) { return c.id == id; });
  };
  for (auto& [id, tub] : tubs) {
    const std::string& chamber = tub.plan.chamber;
    if (chamber == tub.file_place || in(whole, chamber) != whole.end()) continue;
    const auto old = in(before, chamber);
    if (old != before.end() && !plan.chamber(chamber)) plan.chambers.push_back(*old);
    tub.place_trouble = fmt::format(
        "{0}: the record says it stands in {1}, which the configuration does not know{2}. Put {1} "
        "back, or: tubwarden move {0} {3}",
        id, place_words(id, chamber),
        old != before.end() ? " any more; it keeps what it had" : "; nothing is switched there",
        tub.file_place);
  }
}

void Warden::State::judge_places() {
  for (const auto& [id, tub] : tubs) {
    const bool asks = !tub.place_trouble.empty();
    judge_site({id, "place_unconfirmed"}, asks, Duration{0}, AlertRank::today,
               asks ? tub.place_trouble : fmt::format("{}: its place is confirmed.", id));
  }
  for (const ChamberPlan& chamber : plan.chambers) {
    const Standing air = standing_in(chamber.id);
    const bool unled = air.tubs.size() > 1 && leader_of(air).empty();
    judge_site({chamber.id, "leader_unknown"}, unled, Duration{0}, AlertRank::now,
               unled ? fmt::format("{0}: {1} stand in it and none of them leads; its outputs stay "
                                   "safe. Name the leader in chambers/{0}.yaml, or move the others "
                                   "out.",
                                   chamber.id, fmt::join(air.tubs, " and "))
                     : fmt::format("{}: it is led again.", chamber.id));
  }
}

}  // namespace tubwarden
