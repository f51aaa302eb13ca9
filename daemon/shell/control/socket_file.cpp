#include "shell/control/socket_file.hpp"

#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <utility>

namespace tubwarden::control {
namespace {

constexpr mode_t kMode = 0660;
constexpr int kBacklog = 32;

int new_socket() { return ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0); }

Error cannot(const std::string& path, int code) {
  return {ErrorCode::unavailable,
          "the control socket " + path + " cannot be made: " + std::strerror(code)};
}

/// Clears the way for a new socket: nothing there, or one that nobody listens on any more.
Outcome clear_stale(const std::string& path, const sockaddr_un& address) {
  struct stat there {};
  if (::lstat(path.c_str(), &there) != 0) {
    if (errno == ENOENT) return Done{};
    return cannot(path, errno);
  }
  if (!S_ISSOCK(there.st_mode)) {
    return Error{
        ErrorCode::refused,
        path + " is there and is no socket; move it away, or name another control: socket"};
  }
  const int probe = new_socket();
  if (probe < 0) return cannot(path, errno);
  const int failed =
      ::connect(probe, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) == 0 ? 0
                                                                                          : errno;
  ::close(probe);
  // EAGAIN: somebody listens, and is busy.
  if (failed == 0 || failed == EAGAIN) {
    return Error{ErrorCode::refused, "another tubwardend answers at " + path +
                                         "; stop it, or name another control: socket"};
  }
  if (failed != ECONNREFUSED) return cannot(path, failed);
  if (::unlink(path.c_str()) != 0 && errno != ENOENT) return cannot(path, errno);
  return Done{};
}

}  // namespace

Result<SocketFile> SocketFile::bind(const std::string& path) {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  if (path.empty() || path.size() >= sizeof(address.sun_path)) {
    return Error{ErrorCode::bad_input, "control: socket must be 1 to " +
                                           std::to_string(sizeof(address.sun_path) - 1) +
                                           " bytes long: " + path};
  }
  std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
  // What cannot be made shows in bind().
  std::error_code ignored;
  std::filesystem::create_directories(std::filesystem::path(path).parent_path(), ignored);
  if (const Outcome clear = clear_stale(path, address); !clear.ok()) return clear.error();

  SocketFile file(path, new_socket());
  if (file.fd_ < 0) return cannot(path, errno);
  if (::bind(file.fd_, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) != 0) {
    return cannot(path, errno);
  }
  file.remember_file();
  // Nobody can connect before listen(), so nobody does under the wrong mode.
  if (::chmod(path.c_str(), kMode) != 0) return cannot(path, errno);
  if (::listen(file.fd_, kBacklog) != 0) return cannot(path, errno);
  return file;
}

void SocketFile::remember_file() {
  struct stat made {};
  if (::lstat(path_.c_str(), &made) != 0) return;
  device_ = made.st_dev;
  inode_ = made.st_ino;
}

SocketFile::SocketFile(SocketFile&& other) noexcept
    : path_(std::move(other.path_)),
      fd_(std::exchange(other.fd_, -1)),
      device_(std::exchange(other.device_, 0)),
      inode_(std::exchange(other.inode_, 0)) {}

SocketFile::~SocketFile() {
  if (fd_ >= 0) ::close(fd_);
  struct stat there {};
  if (inode_ != 0 && ::lstat(path_.c_str(), &there) == 0 && there.st_dev == device_ &&
      there.st_ino == inode_) {
    ::unlink(path_.c_str());
  }
}

int SocketFile::release_listener() { return std::exchange(fd_, -1); }

}  // namespace tubwarden::control
