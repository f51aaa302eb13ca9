// The record of a dry run: a copy of the real one in a folder of its own that goes away at the end,
// so that the run begins with what is known and nothing of it is kept. The real record stays locked
// meanwhile: a dry run runs beside no daemon. Threading: one owner. Failure: an Error with the way
// out; a process that is killed leaves its copy behind in the temporary folder.
#pragma once

#include <filesystem>
#include <memory>

#include "base/result.hpp"

namespace tubwarden {

class DryRecord {
 public:
  /// `real` is the record's folder; one that is not there is an empty record, and is not made.
  static Result<std::unique_ptr<DryRecord>> begin(const std::filesystem::path& real);
  ~DryRecord();
  DryRecord(const DryRecord&) = delete;
  DryRecord& operator=(const DryRecord&) = delete;

  const std::filesystem::path& folder() const { return folder_; }

 private:
  DryRecord() = default;
  Outcome lock(const std::filesystem::path& real);
  Outcome copy(const std::filesystem::path& real);

  std::filesystem::path folder_;
  int lock_ = -1;
};

}  // namespace tubwarden
