// Putting a new folder in place: made whole beside its place first, checked there, then moved.
// Threading: one owner; a process that is killed leaves a hidden folder behind and no half of ours.
// Failure: an Error; what is there already is never changed.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "settings/new_folder.hpp"

namespace tubwarden::cli {

class StagedFolder {
 public:
  /// The folder as it would be: what YAML is there, and `files` beside it.
  static Result<StagedFolder> make(const std::filesystem::path& folder,
                                   const std::vector<NewFile>& files);
  ~StagedFolder();
  StagedFolder(StagedFolder&& other) noexcept;
  StagedFolder& operator=(StagedFolder&&) = delete;

  const std::filesystem::path& path() const { return stage_; }
  /// Moves the files to their place, in the order they were given; all of them, or none.
  Outcome publish();

 private:
  StagedFolder() = default;
  Outcome fill();
  Outcome publish_whole();
  Outcome publish_files();

  std::filesystem::path folder_, stage_;
  std::vector<NewFile> files_;
  bool fresh_ = false;  ///< the folder is not there yet
};

}  // namespace tubwarden::cli
