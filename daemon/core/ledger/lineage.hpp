// Where a jar, a culture or a tub came from and what became of it; and who stands beside a
// contaminated one. Threading: pure functions. Failure: an unknown id is an error that says where
// the ids are.
#pragma once

#include <string>
#include <vector>

#include "core/ledger/grow_book.hpp"

namespace tubwarden {

/// What an id names; a jar comes before a culture, and so on down the list.
enum class GrowThing { jar, culture, run, mix, tub, batch };

enum class TraceSide { source, itself, offspring };

struct TraceLine {
  WallTime at{};
  TraceSide side = TraceSide::itself;
  std::string of;  ///< the jar, culture, run, mix or tub that the line is about
  std::string text;
  std::string note;
  std::int64_t entry = 0;  ///< 0: no act of the grow (a phase), or not on disk yet
};

struct Trace {
  GrowThing what = GrowThing::jar;
  std::string id;
  std::vector<TraceLine> lines;  ///< by time
};

/// Both ways. Of a source its own lines are told, not those of its other offspring; of a culture's
/// or a run's jars where each came from and how it ended. Acts taken back are not told.
Result<Trace> trace(const GrowBook& book, const std::string& id);

/// Jars that share something with one, itself counted.
enum class SharedBy { culture, run, grain, day };
struct SiblingGroup {
  SharedBy by = SharedBy::culture;
  std::string name;          ///< "LC-2", "S-3", "rye", "2026-03-02"
  std::size_t all = 0;       ///< jars of the group
  std::size_t affected = 0;  ///< of these, contaminated
  std::size_t others = 0;    ///< jars not of the group
  std::size_t others_affected = 0;
  std::vector<std::string> to_watch;  ///< of the group, those that stand
  std::vector<std::string> tubs;      ///< of the group, where some were mixed in
};

/// By culture, sterilising run, grain and day of inoculation (filling, where there was none) by the
/// clock of a place so far east of UTC; what is not noted makes no group. Jars of a year before and
/// after count.
std::vector<SiblingGroup> siblings(const GrowBook& book, const Jar& jar, Duration east_of_utc);

}  // namespace tubwarden
