#include "host/cage.hpp"

#include <fcntl.h>
#include <linux/landlock.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <string_view>

#include "host/plugin_options.hpp"
#include "sdk/wiring.hpp"

namespace tubwarden::host {

namespace {

using protocol::Limit;
namespace fs = std::filesystem;

// Later than the headers of Debian 12; from the kernel's Documentation/userspace-api/landlock.rst.
constexpr std::uint64_t kTruncate = 1u << 14, kIoctlDevice = 1u << 15;
constexpr std::uint64_t kFirstRights = (1u << 13) - 1;  ///< of version 1

constexpr std::uint64_t kReads = LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_EXECUTE;
constexpr std::uint64_t kReadsBelow = kReads | LANDLOCK_ACCESS_FS_READ_DIR;
constexpr std::uint64_t kWrites =
    LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_WRITE_FILE | kTruncate | kIoctlDevice;
constexpr std::uint64_t kWritesBelow = kWrites | LANDLOCK_ACCESS_FS_READ_DIR;
constexpr std::uint64_t kMakesBelow = kWritesBelow | LANDLOCK_ACCESS_FS_MAKE_REG;

/// What programs and libraries read: themselves, certificates, host names, time zones, the kernel's
/// view of the machine. Nothing of a user, and nothing of the daemon.
constexpr const char* kRead[] = {"/usr",
                                 "/lib",
                                 "/lib64",
                                 "/bin",
                                 "/sbin",
                                 "/etc",
                                 "/sys",
                                 "/proc",
                                 "/dev/random",
                                 "/dev/urandom",
                                 "/dev/zero",
                                 "/run/systemd/resolve",
                                 "/run/resolvconf",
                                 "/run/NetworkManager",
                                 "/run/connman"};

/// Rights that this version of Landlock knows.
std::uint64_t known_rights(long version) {
  std::uint64_t rights = kFirstRights;
  if (version >= 2) rights |= LANDLOCK_ACCESS_FS_REFER;
  if (version >= 3) rights |= kTruncate;
  if (version >= 5) rights |= kIoctlDevice;
  return rights;
}

std::string why_not() {
  switch (errno) {
    case ENOSYS:
      return "this kernel has no Landlock";
    case EOPNOTSUPP:
      return "this kernel has Landlock, but it is switched off";
    case EPERM:
      return "the service's filter of system calls forbids Landlock";
    default:  // an open set: errno
      return std::string("Landlock: ") + std::strerror(errno);
  }
}

class Rules {
 public:
  explicit Rules(std::uint64_t rights) : rights_(rights) {
    landlock_ruleset_attr all{};
    all.handled_access_fs = rights;
    fd_ = static_cast<int>(::syscall(SYS_landlock_create_ruleset, &all, sizeof all, 0));
  }
  ~Rules() {
    if (fd_ >= 0) ::close(fd_);
  }
  Rules(const Rules&) = delete;
  Rules& operator=(const Rules&) = delete;

  bool made() const { return fd_ >= 0; }

  /// A path that is not there is none that could be allowed.
  void allow(const std::string& path, std::uint64_t of_a_file, std::uint64_t below_a_folder) {
    const int at = ::open(path.c_str(), O_PATH | O_CLOEXEC);
    if (at < 0) return;
    struct stat about {};
    const bool folder = ::fstat(at, &about) == 0 && S_ISDIR(about.st_mode);
    landlock_path_beneath_attr rule{};
    rule.allowed_access = (folder ? below_a_folder : of_a_file) & rights_;
    rule.parent_fd = at;
    ::syscall(SYS_landlock_add_rule, fd_, LANDLOCK_RULE_PATH_BENEATH, &rule, 0);
    ::close(at);
  }

  bool lock() const {
    return ::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0 &&
           ::syscall(SYS_landlock_restrict_self, fd_, 0) == 0;
  }

 private:
  std::uint64_t rights_;
  int fd_ = -1;
};

/// A device that is not there comes by itself; any other file may be the plugin's to make.
bool may_be_made(const std::string& path) {
  return !path.starts_with("/dev/") && !path.starts_with("/sys/") && !path.starts_with("/proc/");
}

void add_site_files(const std::string& site_json, std::vector<NamedFile>& files) {
  const Result<Wiring> site = Wiring::parse(site_json);
  if (!site) return;
  const Wiring broker = site->object("broker");
  for (const char* name : {"user_file", "ca_file", "cert_file", "key_file"}) {
    if (const auto path = broker.text_if(name)) files.push_back({*path, false});
  }
}

}  // namespace

std::vector<NamedFile> named_files(const tw_plugin& plugin, const protocol::Open& output) {
  std::vector<NamedFile> files;
  const PluginOptions options(plugin, output.wiring_json);
  for (std::uint32_t i = 0; i < plugin.option_count; ++i) {
    const std::string_view type = plugin.options[i].type;
    if (type != "file" && type != "device") continue;
    const char* path = options.get(plugin.options[i].name, 0);
    if (path != nullptr && path[0] == '/') files.push_back({path, type == "device"});
  }
  add_site_files(output.site_json, files);
  std::sort(files.begin(), files.end());
  return files;
}

Limit Cage::lock(const std::vector<protocol::Open>& outputs) {
  asked_ = true;
  if ((plugin_.can & TW_NAMES_FILES) == 0) {
    return {"files", false, "the plugin does not name all that it opens"};
  }
  const long version =
      ::syscall(SYS_landlock_create_ruleset, nullptr, 0, LANDLOCK_CREATE_RULESET_VERSION);
  if (version < 0) return {"files", false, why_not()};
  Rules rules(known_rights(version));
  if (!rules.made()) return {"files", false, why_not()};
  for (const char* path : kRead) rules.allow(path, kReads, kReadsBelow);
  rules.allow("/dev/null", kWrites, kWritesBelow);
  rules.allow(fs::absolute(plugin_path_).parent_path(), kReads, kReadsBelow);
  std::size_t named = 0;
  for (const protocol::Open& output : outputs) {
    for (const NamedFile& file : named_files(plugin_, output)) {
      struct stat about {};
      Allowed& allowed = allowed_[file.path];
      named += allowed.inode == 0 && !allowed.by_folder ? 1 : 0;
      allowed.writes = allowed.writes || file.writes;
      if (::stat(file.path.c_str(), &about) == 0) {
        allowed.device = about.st_dev;
        allowed.inode = about.st_ino;
        allowed.changed = about.st_ctim;
        rules.allow(file.path, file.writes ? kWrites : kReads,
                    file.writes ? kWritesBelow : kReadsBelow);
      } else if (file.writes && may_be_made(file.path)) {
        allowed.by_folder = true;
        rules.allow(fs::path(file.path).parent_path(), 0, kMakesBelow);
      }
    }
  }
  if (!rules.lock()) return {"files", false, why_not()};
  holds_ = true;
  return {"files", true, "the " + std::to_string(named) + " that it names"};
}

bool Cage::same(const Allowed& then, const struct stat& now) {
  if (now.st_dev != then.device || now.st_ino != then.inode) return false;
  const bool device = S_ISCHR(now.st_mode) || S_ISBLK(now.st_mode);
  return !device ||
         (now.st_ctim.tv_sec == then.changed.tv_sec && now.st_ctim.tv_nsec == then.changed.tv_nsec);
}

bool Cage::covers(const protocol::Open& output) const {
  if (!holds_) return true;
  for (const NamedFile& file : named_files(plugin_, output)) {
    const auto found = allowed_.find(file.path);
    if (found == allowed_.end() || (file.writes && !found->second.writes)) return false;
    struct stat now {};
    if (found->second.by_folder || ::stat(file.path.c_str(), &now) != 0) continue;
    if (!same(found->second, now)) return false;
  }
  return true;
}

}  // namespace tubwarden::host
