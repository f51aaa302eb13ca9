// The control socket's file: bound, listening, mode 0660, and removed with the object. For the
// files of this room only. Threading: any one thread; never blocks. Failure: an error with the way
// out.
#pragma once

#include <sys/types.h>

#include <string>

#include "base/result.hpp"

namespace tubwarden::control {

class SocketFile {
 public:
  /// A file left by a daemon that died is replaced; one that somebody listens on is refused, and so
  /// is a file that is no socket.
  static Result<SocketFile> bind(const std::string& path);

  SocketFile(SocketFile&& other) noexcept;
  SocketFile& operator=(SocketFile&&) = delete;
  ~SocketFile();
  /// The listening descriptor, once, to its new owner.
  int release_listener();

 private:
  explicit SocketFile(std::string path, int fd) : path_(std::move(path)), fd_(fd) {}
  void remember_file();

  std::string path_;
  int fd_ = -1;
  dev_t device_ = 0;  ///< of our file: one that another has put in its place is not ours to remove
  ino_t inode_ = 0;
};

}  // namespace tubwarden::control
