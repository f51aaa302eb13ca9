// Place truth: the record says in which air a tub stands; a file's place (`stands_in:`, or the
// tub's own air) is an event only when it differs from the place last seen in that file. And who
// leads an air, for several stand in one. Threading: pure functions. Failure: none; a move that
// cannot be is a verdict that says which rule forbids it.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace tubwarden {

/// What the record knows of a tub's place.
struct PlaceKnown {
  std::string chamber;                   ///< of the open placement
  std::optional<std::string> file_seen;  ///< the place last seen in the tub's file
};

enum class PlaceVerdict {
  unplaced,  ///< no open placement: it stands where its file says, once its batch is opened
  nothing,   ///< the file has not changed
  seen,      ///< the file agrees, or has caught up with a command: remember it, move nothing
  ask,       ///< first seen against an open placement, and it disagrees: ask, do not move
  move,      ///< the grower edited the place: the tub moves
};

PlaceVerdict judge_place(const std::optional<PlaceKnown>& known, const std::string& file);

/// One air and who stands in it.
struct Standing {
  std::string chamber;
  std::string named_leader;  ///< by the chamber's file; empty: none is named
  std::vector<std::string> tubs;
};

/// Who leads: the named leader where it stands there; else the only tub that does; else nobody.
std::string leader_of(const Standing& air);

enum class MoveVerdict {
  moves,
  stays,          ///< it stands there already
  leads_others,   ///< it leads the air it would leave, and others stand there
  not_its_own,    ///< the air is another tub's own
  leader_needed,  ///< several would stand there, and none of them is named the leader
};

/// Whether `tub` may go from one air to another. `own_air`: the air it would go to is a tub's own,
/// of the tub of that name.
MoveVerdict judge_move(const std::string& tub, const Standing& from, const Standing& to,
                       bool own_air);

}  // namespace tubwarden
