// What the warden holds of the grow: the book of cultures, jars and beds, and what the morning
// message needs to know. For the files of this room only.
// Threading: the loop's thread. Failure: none.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/ledger/grow_book.hpp"
#include "core/ledger/tasks.hpp"

namespace tubwarden {

/// A phase as the book counts it; which phases crop stands here.
PhaseSpan span_of(const std::string& phase, WallTime from);

struct GrowHeld {
  GrowBook book;
  /// A phase that began while the clock was unset, until its time is known.
  struct Undated {
    std::string tub, batch;
    PhaseSpan span;
    Instant began{};
  };
  std::vector<Undated> undated;
  /// What was foreseen of a jar, and of how many looks and shakes.
  struct Foreseen {
    std::size_t looks = 0, shakes = 0;
    JarForeseen jar;
  };
  std::map<std::string, Foreseen> foreseen;  ///< by jar
  std::map<BedKey, WallTime> first_picks;    ///< 06:00 local of the day, of beds with pins
  std::map<std::string, WallTime> drilled;   ///< the last drill, by tub
  std::optional<WallTime> morning;           ///< when tasks were looked through in a morning
};

}  // namespace tubwarden
