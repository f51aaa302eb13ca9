// What the record is opened with. Threading: plain values. Failure: none.
#pragma once

#include <string>

#include "base/time.hpp"

namespace tubwarden {

/// How long the parts of the history are kept. Entries are kept for good.
struct RecordKeep {
  Duration readings = days(90);  ///< every reading, and the runs of outputs
  Duration means = days(3650);   ///< what five minutes said; never shorter than the readings
  Duration decisions = days(60);
};

struct RecordOptions {
  std::string folder;
  std::string boot_id;  ///< of this boot; readings are of it
  RecordKeep keep{};
  /// Each group is a synced write, and a card wears by them. A kill or a power cut loses no more
  /// than this of readings, and what a slow card adds: 60 s in all are promised.
  Duration group_within = seconds(50);
};

}  // namespace tubwarden
