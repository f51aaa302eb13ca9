// The lock of one process on a record's folder; falls with the process, however it ends.
// Threading: one owner. Failure: held() says whether it was got.
#pragma once

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <filesystem>

namespace tubwarden {

inline constexpr const char* kLockName = "lock";

class FolderLock {
 public:
  explicit FolderLock(const std::filesystem::path& file)
      : fd_(::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0640)) {
    held_ = fd_ >= 0 && ::flock(fd_, LOCK_EX | LOCK_NB) == 0;
  }
  ~FolderLock() {
    if (fd_ >= 0) ::close(fd_);
  }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;
  bool held() const { return held_; }
  /// The file could be opened; then another process has the lock where it is not held.
  bool opened() const { return fd_ >= 0; }

 private:
  int fd_;
  bool held_ = false;
};

}  // namespace tubwarden
