#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <vector>

#include "shell/record/backup/backup.hpp"
#include "shell/record/backup/checks.hpp"
#include "shell/record/backup/file_io.hpp"
#include "shell/record/backup/ustar.hpp"
#include "shell/record/folder_lock.hpp"
#include "shell/record/readings_schema.hpp"
#include "shell/record/schema.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kManifestBytesMax = 64 * 1024;

/// What SQLite may have beside a database.
constexpr const char* kBeside[] = {"", "-wal", "-shm", "-journal"};

/// Root makes files for others: they are given to whom the folder belongs, or the daemon could not
/// open them.
void give_to_owner_of(const fs::path& folder, const fs::path& file) {
  struct stat of {};
  if (::geteuid() != 0 || ::stat(folder.c_str(), &of) != 0) return;
  if (::lchown(file.c_str(), of.st_uid, of.st_gid) != 0) {
    throw FileError(fmt::format("cannot give {} to the owner of {}: {}", file.string(),
                                folder.string(), std::strerror(errno)));
  }
}

/// Every file of the backup in `into`, with its sum compared.
BackupManifest unpack(const fs::path& backup, const fs::path& into) {
  TarReader tar(backup);
  const auto first = tar.next();
  if (!first || first->name != kManifestName) {
    throw FileError(fmt::format("{} is no backup of a record: it does not begin with its {}",
                                backup.string(), kManifestName));
  }
  const BackupManifest manifest = read_manifest(tar.text(kManifestBytesMax));
  if (manifest.files.empty() || manifest.files.front().name != kRecordName) {
    throw FileError(fmt::format("{} holds no {}", backup.string(), kRecordName));
  }
  for (const BackupFile& file : manifest.files) {
    if (const int known = version_known(file.name); file.version > known) {
      throw FileError(
          fmt::format("{} in it is of version {}, made by a newer Tubwarden; this one "
                      "knows version {}. Install the newer one",
                      file.name, file.version, known));
    }
    const auto member = tar.next();
    if (!member || member->name != file.name || member->size != file.bytes) {
      throw FileError(
          fmt::format("{} does not hold {} as its manifest says", backup.string(), file.name));
    }
    if (tar.to_file(into / file.name) != file.sha256) {
      throw FileError(
          fmt::format("{} is damaged: the checksum of {} is another than its manifest "
                      "says",
                      backup.string(), file.name));
    }
  }
  return manifest;
}

/// Opens what was unpacked as the daemon will, which brings an older version to this one.
void prove(const fs::path& folder, const BackupManifest& manifest) {
  for (const BackupFile& file : manifest.files) {
    const fs::path path = folder / file.name;
    sql::Database db(path.string());
    if (db.user_version() != file.version) {
      throw FileError(fmt::format("{} in it is of version {}, and its manifest says {}", file.name,
                                  db.user_version(), file.version));
    }
    check_whole(db, file.name);
    if (file.name == kRecordName) {
      prepare_record(db, path.string());
    } else {
      prepare_readings(db, path.string());
    }
  }
}

/// Renames one after another, and all of them back where one fails.
class Moves {
 public:
  ~Moves() {
    if (kept_) return;
    for (auto move = done_.rbegin(); move != done_.rend(); ++move) {
      std::error_code ignored;
      fs::rename(move->second, move->first, ignored);
    }
  }
  void move(const fs::path& from, const fs::path& to) {
    rename_to_new(from, to);
    done_.emplace_back(from, to);
  }
  void keep() { kept_ = true; }

 private:
  std::vector<std::pair<fs::path, fs::path>> done_;
  bool kept_ = false;
};

/// A new folder for what was there; empty when nothing was.
fs::path make_aside(const RestoreAsk& ask) {
  const auto there = [&](const char* name) {
    return std::any_of(std::begin(kBeside), std::end(kBeside), [&](const char* end) {
      return fs::exists(ask.record / (std::string(name) + end));
    });
  };
  if (!there(kRecordName) && !there(kReadingsName)) return {};
  const std::string name = "before-restore-" + name_of_moment(ask.now);
  fs::path aside = ask.record / name;
  for (int n = 2; !fs::create_directory(aside); ++n) {
    aside = ask.record / fmt::format("{}-{}", name, n);
  }
  give_to_owner_of(ask.record, aside);
  return aside;
}

Restored put_back(const RestoreAsk& ask) {
  const WorkFolder work(ask.record / "restore");
  Restored restored;
  restored.manifest = unpack(ask.file, work.path());
  prove(work.path(), restored.manifest);
  for (const BackupFile& file : restored.manifest.files) {
    const fs::path path = work.path() / file.name;
    fs::permissions(path, fs::perms(0640));
    give_to_owner_of(ask.record, path);
  }
  restored.aside = make_aside(ask);
  Moves moves;
  for (const char* name : {kRecordName, kReadingsName}) {
    for (const char* end : kBeside) {
      const std::string file = std::string(name) + end;
      if (fs::exists(ask.record / file)) moves.move(ask.record / file, restored.aside / file);
    }
  }
  for (const BackupFile& file : restored.manifest.files) {
    moves.move(work.path() / file.name, ask.record / file.name);
  }
  moves.keep();
  if (!restored.aside.empty()) sync_folder(restored.aside);
  sync_folder(ask.record);
  return restored;
}

Error lock_refused(const fs::path& record, bool opened) {
  if (opened) {
    return {ErrorCode::refused,
            fmt::format("a tubwardend is at work with the record in {}; stop it first: systemctl "
                        "stop tubwarden",
                        record.string())};
  }
  return {ErrorCode::refused,
          fmt::format("you may not write in {}; run it as root, or as the daemon's user",
                      record.string())};
}

}  // namespace

Result<Restored> restore_backup(const RestoreAsk& ask) {
  try {
    OpenFile::to_read(ask.file);  // before anything is made
    fs::create_directories(ask.record);
    const bool new_lock = !fs::exists(ask.record / kLockName);
    const FolderLock lock(ask.record / kLockName);
    if (!lock.held()) return lock_refused(ask.record, lock.opened());
    if (new_lock) give_to_owner_of(ask.record, ask.record / kLockName);
    return put_back(ask);
  } catch (const FileError& error) {
    return Error{ErrorCode::refused, error.what()};
  } catch (const sql::SqlError& error) {
    return Error{ErrorCode::broken,
                 fmt::format("{} cannot be restored: {}", ask.file.string(), error.what())};
  } catch (const fs::filesystem_error& error) {
    return Error{ErrorCode::unavailable, error.what()};
  }
}

}  // namespace tubwarden
