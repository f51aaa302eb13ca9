#include "core/grow/place_truth.hpp"

#include <algorithm>

namespace tubwarden {
namespace {

bool stands(const Standing& air, const std::string& tub) {
  return std::find(air.tubs.begin(), air.tubs.end(), tub) != air.tubs.end();
}

}  // namespace

PlaceVerdict judge_place(const std::optional<PlaceKnown>& known, const std::string& file) {
  if (!known) return PlaceVerdict::unplaced;
  if (known->file_seen == file) return PlaceVerdict::nothing;
  if (known->chamber == file) return PlaceVerdict::seen;
  return known->file_seen ? PlaceVerdict::move : PlaceVerdict::ask;
}

std::string leader_of(const Standing& air) {
  if (!air.named_leader.empty() && stands(air, air.named_leader)) return air.named_leader;
  return air.tubs.size() == 1 ? air.tubs.front() : "";
}

MoveVerdict judge_move(const std::string& tub, const Standing& from, const Standing& to,
                       bool own_air) {
  if (from.chamber == to.chamber) return MoveVerdict::stays;
  if (own_air && to.chamber != tub) return MoveVerdict::not_its_own;
  if (from.tubs.size() > 1 && leader_of(from) == tub) return MoveVerdict::leads_others;
  Standing then = to;
  then.tubs.push_back(tub);
  return leader_of(then).empty() ? MoveVerdict::leader_needed : MoveVerdict::moves;
}

}  // namespace tubwarden
