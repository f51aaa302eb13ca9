// What the record knows at a start, read in one go and handed to the warden.
// Threading: blocking, at the start only. Failure: the first question that failed, as an error.
#pragma once

#include <vector>

#include "ports/record.hpp"
#include "shell/warden/warden.hpp"

namespace tubwarden {

struct Past {
  std::vector<TubRecord> tubs;
  std::vector<AlertKept> desk;
  std::vector<AlertNoted> alerts;
  std::vector<NoticeWritten> outbox;
  std::vector<HandOpen> hands;
  std::vector<LearnedRow> learned;
  std::vector<BookRow> books;
  std::vector<GrowEntry> grown;
  std::vector<PhaseRow> phases;
  std::vector<ActRow> drills, mornings;
};

Result<Past> read_past(Record& record);
/// Before the first adopt().
void give_past(Past past, Warden& warden);

}  // namespace tubwarden
