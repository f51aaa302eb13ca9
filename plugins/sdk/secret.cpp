#include "sdk/secret.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>

namespace tubwarden {

namespace {

constexpr std::size_t kSecretBytesMax = 4096;

Error bad_secret(const std::string& file, const std::string& what) {
  return {ErrorCode::bad_input, "secret file " + file + " " + what};
}

Result<std::string> secret_path(const std::string& where) {
  if (!where.empty() && where[0] == '/') return where;
  if (where.empty() || where[0] == '.' || where.find('/') != std::string::npos) {
    return bad_secret("'" + where + "'",
                      "is not named by a full path, or by the bare name of a credential");
  }
  const char* folder = std::getenv("CREDENTIALS_DIRECTORY");
  if (folder == nullptr || folder[0] != '/') {
    return bad_secret("'" + where + "'",
                      "has no full path, and the service was given no credentials "
                      "(LoadCredential= of its unit)");
  }
  return std::string(folder) + "/" + where;
}

class OpenSecret {
 public:
  // A pipe in its place must not hold us up.
  explicit OpenSecret(const std::string& path)
      : fd_(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY)) {}
  ~OpenSecret() {
    if (fd_ >= 0) ::close(fd_);
  }
  OpenSecret(const OpenSecret&) = delete;
  OpenSecret& operator=(const OpenSecret&) = delete;
  int fd() const { return fd_; }

 private:
  int fd_;
};

}  // namespace

Result<std::string> read_secret(const std::string& where) {
  const Result<std::string> path = secret_path(where);
  if (!path) return path;
  const OpenSecret file(*path);
  struct stat status {};
  if (file.fd() < 0 || ::fstat(file.fd(), &status) != 0) {
    return Error{ErrorCode::unavailable, "secret file " + *path + ": " + std::strerror(errno)};
  }
  if (!S_ISREG(status.st_mode)) return bad_secret(*path, "is no plain file");
  if ((status.st_mode & (S_IROTH | S_IWOTH)) != 0) {
    return bad_secret(*path, "can be read or written by everyone: chmod o= " + *path);
  }
  std::string text(kSecretBytesMax + 1, '\0');
  const ssize_t got = ::read(file.fd(), text.data(), text.size());
  if (got < 0) {
    return Error{ErrorCode::unavailable, "secret file " + *path + ": " + std::strerror(errno)};
  }
  text.resize(static_cast<std::size_t>(got));
  if (text.size() > kSecretBytesMax) return bad_secret(*path, "is longer than 4096 bytes");
  text.resize(std::min(text.find('\n'), text.size()));
  if (text.ends_with('\r')) text.pop_back();
  if (text.empty()) return bad_secret(*path, "has an empty first line");
  const auto control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; };
  if (std::any_of(text.begin(), text.end(), control)) {
    return bad_secret(*path, "has a control character in its first line");
  }
  return text;
}

}  // namespace tubwarden
