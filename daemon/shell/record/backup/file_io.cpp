#include "shell/record/backup/file_io.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/evp.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <utility>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void file_failed(const std::string& doing, const fs::path& path, int error) {
  const char* hint = error == EACCES || error == EPERM || error == EROFS
                         ? "; choose a folder that you may write to, or run it as root"
                     : error == ENOSPC || error == EDQUOT ? "; make room, or choose another place"
                                                          : "";
  throw FileError(fmt::format("{} {}: {}{}", doing, path.string(), std::strerror(error), hint));
}

}  // namespace

OpenFile::OpenFile(int fd, fs::path path) : fd_(fd), path_(std::move(path)) {}
OpenFile::OpenFile(OpenFile&& other) noexcept
    : fd_(std::exchange(other.fd_, -1)), path_(std::move(other.path_)) {}
OpenFile::~OpenFile() {
  if (fd_ >= 0) ::close(fd_);
}

OpenFile OpenFile::make(const fs::path& path) {
  const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
  if (fd < 0) file_failed("cannot make", path, errno);
  return {fd, path};
}

OpenFile OpenFile::to_read(const fs::path& path) {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) file_failed("cannot read", path, errno);
  return {fd, path};
}

void OpenFile::write(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t n = ::write(fd_, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) file_failed("cannot write", path_, errno);
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
}

std::size_t OpenFile::read(char* into, std::size_t most) {
  std::size_t got = 0;
  while (got < most) {
    const ssize_t n = ::read(fd_, into + got, most - got);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) file_failed("cannot read", path_, errno);
    if (n == 0) break;
    got += static_cast<std::size_t>(n);
  }
  return got;
}

void OpenFile::sync() {
  if (::fsync(fd_) != 0) file_failed("cannot write", path_, errno);
}

std::uint64_t OpenFile::size() const {
  struct stat about {};
  if (::fstat(fd_, &about) != 0) file_failed("cannot read", path_, errno);
  return static_cast<std::uint64_t>(about.st_size);
}

void sync_folder(const fs::path& folder) {
  const int fd = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0) file_failed("cannot open", folder, errno);
  const int error = ::fsync(fd) == 0 ? 0 : errno;
  ::close(fd);
  if (error != 0 && error != EINVAL && error != EROFS) file_failed("cannot write", folder, error);
}

void rename_to_new(const fs::path& from, const fs::path& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return;
  if (errno == EINVAL || errno == ENOSYS) {  // a file system without it: looked at first instead
    struct stat there {};
    if (::lstat(to.c_str(), &there) == 0) file_failed("cannot make", to, EEXIST);
    if (::rename(from.c_str(), to.c_str()) == 0) return;
  }
  file_failed("cannot make", to, errno);
}

WorkFolder::WorkFolder(const fs::path& target) {
  const fs::path beside = target.parent_path();
  std::string name = (beside / ("." + target.filename().string() + ".XXXXXX")).string();
  if (!::mkdtemp(name.data())) {
    file_failed("cannot write in", beside.empty() ? "." : beside, errno);
  }
  path_ = name;
}

WorkFolder::~WorkFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

Digest::Digest() : context_(EVP_MD_CTX_new()) {
  ENSURE(context_);
  ENSURE(EVP_DigestInit_ex(static_cast<EVP_MD_CTX*>(context_), EVP_sha256(), nullptr) == 1);
}
Digest::~Digest() { EVP_MD_CTX_free(static_cast<EVP_MD_CTX*>(context_)); }

void Digest::add(std::string_view bytes) {
  ENSURE(EVP_DigestUpdate(static_cast<EVP_MD_CTX*>(context_), bytes.data(), bytes.size()) == 1);
}

std::string Digest::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> sum{};
  unsigned int size = 0;
  ENSURE(EVP_DigestFinal_ex(static_cast<EVP_MD_CTX*>(context_), sum.data(), &size) == 1);
  std::string text;
  for (unsigned int i = 0; i < size; ++i) text += fmt::format("{:02x}", sum[i]);
  return text;
}

}  // namespace tubwarden
