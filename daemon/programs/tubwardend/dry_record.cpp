#include "programs/tubwardend/dry_record.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <string>

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

/// The record's own lock, and what of it is copied: not the history of readings, which may be
/// large.
constexpr const char* kLock = "lock";
constexpr std::array<const char*, 2> kCopied = {"record.db", "record.db-wal"};

Error may_not(const fs::path& path, const std::string& why) {
  return {ErrorCode::unavailable, "the record at " + path.string() + " cannot be read (" + why +
                                      "); run the dry run as the daemon's user or as root"};
}

}  // namespace

Result<std::unique_ptr<DryRecord>> DryRecord::begin(const fs::path& real) {
  std::unique_ptr<DryRecord> dry(new DryRecord);
  if (const Outcome locked = dry->lock(real); !locked.ok()) return locked.error();
  std::error_code code;
  std::string name = (fs::temp_directory_path(code) / "tubwarden-dry-XXXXXX").string();
  if (code || !::mkdtemp(name.data())) {
    return Error{ErrorCode::unavailable, "a dry run needs a temporary folder, and " + name +
                                             " cannot be made; name another place with TMPDIR"};
  }
  dry->folder_ = name;
  if (const Outcome copied = dry->copy(real); !copied.ok()) return copied.error();
  return dry;
}

DryRecord::~DryRecord() {
  std::error_code ignored;
  if (!folder_.empty()) fs::remove_all(folder_, ignored);
  if (lock_ >= 0) ::close(lock_);
}

/// The lock file is never made here: one of root's would keep the daemon's user out later.
Outcome DryRecord::lock(const fs::path& real) {
  const fs::path file = real / kLock;
  lock_ = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (lock_ < 0) {
    if (errno == ENOENT || errno == ENOTDIR) return Done{};  // no record yet
    return may_not(real, std::strerror(errno));
  }
  if (::flock(lock_, LOCK_EX | LOCK_NB) == 0) return Done{};
  return Error{ErrorCode::refused,
               "a tubwardend is at work with the record at " + real.string() +
                   ", and a dry run runs beside none; stop it first: systemctl stop tubwarden"};
}

Outcome DryRecord::copy(const fs::path& real) {
  for (const char* name : kCopied) {
    std::error_code code;
    if (!fs::exists(real / name, code)) {
      if (code && code != std::errc::not_a_directory) return may_not(real, code.message());
      continue;
    }
    if (!fs::copy_file(real / name, folder_ / name, code) || code) {
      return may_not(real / name, code.message());
    }
  }
  return Done{};
}

}  // namespace tubwarden
