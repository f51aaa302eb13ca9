#include "fault/hosts/fuse_file.hpp"

#include <fcntl.h>
#include <linux/fuse.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <stdexcept>

namespace tubwarden {

namespace {

constexpr std::uint64_t kRoot = 1, kRelay = 2;
constexpr std::size_t kRequestMax = 1u << 18;

fuse_attr attr_of(std::uint64_t node) {
  fuse_attr attr{};
  attr.ino = node;
  attr.mode = node == kRoot ? S_IFDIR | 0755 : S_IFREG | 0644;
  attr.nlink = 1;
  attr.blksize = 4096;
  return attr;
}

template <class T>
T part(const std::string& request, std::size_t at) {
  T value{};
  if (request.size() >= at + sizeof value) std::memcpy(&value, request.data() + at, sizeof value);
  return value;
}

[[noreturn]] void fail(const std::string& what) {
  throw std::runtime_error(what + ": " + std::strerror(errno));
}

}  // namespace

std::optional<std::string> FuseFile::missing() {
  if (::geteuid() != 0) return "only root can mount a file system";
  const int device = ::open("/dev/fuse", O_RDWR | O_CLOEXEC);
  if (device < 0) return std::string("/dev/fuse: ") + std::strerror(errno);
  ::close(device);
  if (::unshare(CLONE_NEWNS) != 0) return std::string("unshare: ") + std::strerror(errno);
  return std::nullopt;
}

FuseFile::FuseFile(const std::filesystem::path& folder) : folder_(folder) {
  if (::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0) fail("/");
  device_ = ::open("/dev/fuse", O_RDWR | O_CLOEXEC);
  if (device_ < 0) fail("/dev/fuse");
  const std::string options =
      "fd=" + std::to_string(device_) + ",rootmode=40000,user_id=0,group_id=0";
  if (::mount("tubwarden", folder_.c_str(), "fuse", MS_NOSUID | MS_NODEV, options.c_str()) != 0) {
    fail(folder_.string());
  }
  thread_ = std::thread([this] { serve(); });
}

FuseFile::~FuseFile() {
  let_go();
  ::umount2(folder_.c_str(), MNT_FORCE | MNT_DETACH);
  thread_.join();
  ::close(device_);
}

std::vector<FuseFile::Written> FuseFile::written() const {
  const std::lock_guard hold(lock_);
  return written_;
}

std::size_t FuseFile::held() const {
  const std::lock_guard hold(lock_);
  return held_.size();
}

void FuseFile::hold() {
  const std::lock_guard hold(lock_);
  holding_ = true;
}

void FuseFile::let_go() {
  const std::lock_guard hold(lock_);
  holding_ = false;
  for (const auto& [unique, bytes] : held_) {
    const fuse_write_out out{bytes, 0};
    reply(unique, 0, &out, sizeof out);
  }
  held_.clear();
}

void FuseFile::reply(std::uint64_t unique, int error, const void* data, std::size_t size) {
  fuse_out_header head{static_cast<std::uint32_t>(sizeof head + size), -error, unique};
  const iovec parts[2] = {{&head, sizeof head}, {const_cast<void*>(data), size}};
  [[maybe_unused]] const ssize_t wrote = ::writev(device_, parts, size == 0 ? 1 : 2);
}

void FuseFile::serve() {
  std::string request(kRequestMax, '\0');
  for (;;) {
    request.resize(kRequestMax);
    const ssize_t got = ::read(device_, request.data(), request.size());
    if (got < 0 && (errno == EINTR || errno == EAGAIN || errno == ENOENT)) continue;
    if (got <= 0) return;  // unmounted
    request.resize(static_cast<std::size_t>(got));
    answer(request);
  }
}

void FuseFile::answer(const std::string& request) {
  const auto head = part<fuse_in_header>(request, 0);
  const auto say = [&](const auto& out) { reply(head.unique, 0, &out, sizeof out); };
  switch (head.opcode) {
    case FUSE_INIT: {
      fuse_init_out out{};
      out.major = FUSE_KERNEL_VERSION;
      out.minor = 31;
      out.max_write = 4096;
      out.time_gran = 1;
      return say(out);
    }
    case FUSE_LOOKUP: {
      if (std::strcmp(request.data() + sizeof head, "relay") != 0) {
        return reply(head.unique, ENOENT, nullptr, 0);
      }
      fuse_entry_out out{};
      out.nodeid = kRelay;
      out.entry_valid = out.attr_valid = 3600;
      out.attr = attr_of(kRelay);
      return say(out);
    }
    case FUSE_GETATTR:
    case FUSE_SETATTR: {
      fuse_attr_out out{};
      out.attr_valid = 3600;
      out.attr = attr_of(head.nodeid);
      return say(out);
    }
    case FUSE_OPEN: {
      fuse_open_out out{};
      out.open_flags = FOPEN_DIRECT_IO;
      return say(out);
    }
    case FUSE_WRITE: {
      const auto in = part<fuse_write_in>(request, sizeof head);
      const std::lock_guard hold(lock_);
      written_.push_back(
          {request.substr(sizeof head + sizeof in, in.size), std::chrono::steady_clock::now()});
      if (holding_) {
        held_.emplace_back(head.unique, in.size);
        return;
      }
      return say(fuse_write_out{in.size, 0});
    }
    case FUSE_FORGET:
    case FUSE_BATCH_FORGET:
    case FUSE_INTERRUPT:  // no answer is asked for; what is held stays held
      return;
    case FUSE_FLUSH:
    case FUSE_RELEASE:
      return reply(head.unique, 0, nullptr, 0);
    default:  // an open set: whatever the kernel asks
      return reply(head.unique, ENOSYS, nullptr, 0);
  }
}

}  // namespace tubwarden
