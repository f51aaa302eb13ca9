// A copy of the record as one file, made while the daemon goes on writing, and its way back.
// make_backup reads the databases by SQLite itself, from another process than the daemon's: in
// write-ahead mode a reader holds a snapshot and stops no writer. Threading: blocks the caller, who
// has no outputs to keep. Failure: an Error with the way out; a backup that failed leaves no file,
// a restore that was refused leaves all as it was.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include "base/result.hpp"
#include "shell/record/backup/manifest.hpp"

namespace tubwarden {

struct BackupAsk {
  std::filesystem::path record;  ///< the record's folder
  std::filesystem::path target;  ///< a new file, or a folder, where the file gets a name of its own
  std::string site;
  WallTime now{};
};

/// The share that is done, 0 to 1.
using BackupTold = std::function<void(double done)>;

struct BackupMade {
  std::filesystem::path file;
  std::uint64_t bytes = 0;
  BackupManifest manifest;
};

/// A file that is there is never overwritten. The copy is checked (`pragma integrity_check`) before
/// it gets its name, and its name only when it is on the disk.
Result<BackupMade> make_backup(const BackupAsk& ask, const BackupTold& told);

struct RestoreAsk {
  std::filesystem::path file;
  std::filesystem::path record;  ///< the record's folder; made if it is not there
  WallTime now{};
};

struct Restored {
  BackupManifest manifest;
  std::filesystem::path aside;  ///< where what was there lies now; empty: nothing was
};

/// Refuses while a daemon has the record, a file whose sums or tables do not agree, and one of a
/// newer version. What was there is moved aside under a dated name and never deleted.
Result<Restored> restore_backup(const RestoreAsk& ask);

}  // namespace tubwarden
