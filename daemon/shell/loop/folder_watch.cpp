#include "shell/loop/folder_watch.hpp"

#include <sys/inotify.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cstring>
#include <map>
#include <optional>
#include <string>
#include <utility>

namespace tubwarden {

namespace fs = std::filesystem;
namespace asio = boost::asio;
using boost::system::error_code;

namespace {

constexpr std::uint32_t kFolderEvents = IN_CLOSE_WRITE | IN_CREATE | IN_MOVED_TO | IN_MOVED_FROM |
                                        IN_DELETE | IN_ATTRIB | IN_DELETE_SELF | IN_MOVE_SELF;

/// What the poll compares of a file; the inode tells a rename-and-save of equal size and time.
struct FileState {
  std::int64_t mtime_ns = 0;
  std::int64_t size = 0;
  std::uint64_t inode = 0;
  bool operator==(const FileState&) const = default;
};
using Snapshot = std::map<std::string, FileState>;

std::optional<FileState> state_of(const fs::path& path) {
  struct stat s {};
  if (::stat(path.c_str(), &s) != 0) return std::nullopt;
  return FileState{s.st_mtim.tv_sec * 1000000000LL + s.st_mtim.tv_nsec, s.st_size, s.st_ino};
}

/// A file that came without being written here: a link, symbolic or hard.
bool is_linked(const fs::path& path) {
  struct stat s {};
  if (::lstat(path.c_str(), &s) != 0) return false;
  return S_ISLNK(s.st_mode) || (S_ISREG(s.st_mode) && s.st_nlink > 1);
}

}  // namespace

bool is_editors_name(std::string_view name) {
  if (name.empty() || name.front() == '.' || name == "4913") return true;
  if (name.size() > 1 && name.front() == '#' && name.back() == '#') return true;
  return std::ranges::any_of(std::array<std::string_view, 4>{"~", ".swp", ".swx", ".tmp"},
                             [&](std::string_view end) { return name.ends_with(end); });
}

struct FolderWatch::Impl : std::enable_shared_from_this<Impl> {
  fs::path folder;
  std::function<void()> changed;
  Options options;
  asio::posix::stream_descriptor events;
  asio::steady_timer settled;
  asio::steady_timer poll;
  std::map<int, fs::path> watches;
  int parent_watch = -1;
  std::optional<asio::steady_timer::time_point> first_sign;  ///< of what has not been told yet
  Snapshot snapshot;
  bool ended = false;
  alignas(inotify_event) std::array<char, 16 * 1024> buffer;

  Impl(asio::io_context& loop, fs::path f, std::function<void()> c, Options o)
      : folder(std::move(f)),
        changed(std::move(c)),
        options(o),
        events(loop),
        settled(loop),
        poll(loop) {
    folder = fs::absolute(folder).lexically_normal();
    if (!folder.has_filename()) folder = folder.parent_path();
  }

  void start() {
    const int fd = options.inotify ? ::inotify_init1(IN_NONBLOCK | IN_CLOEXEC) : -1;
    error_code failed;
    if (fd >= 0) events.assign(fd, failed);
    if (failed) ::close(fd);  // the poll remains
    watch_all();
    snapshot = look();
    if (events.is_open()) read();
    arm_poll();
  }

  // --- which folders ---

  /// Watches what is there now; asking again for a folder already watched changes nothing. The
  /// folder above is watched only while ours is missing: it may be a busy one.
  void watch_all() {
    if (!events.is_open()) return;
    const int fd = events.native_handle();
    std::error_code ignored;
    if (parent_watch < 0 && !fs::is_directory(folder, ignored)) {
      parent_watch = ::inotify_add_watch(fd, folder.parent_path().c_str(),
                                         IN_CREATE | IN_MOVED_TO | IN_ONLYDIR);
    }
    bool there = false;
    each_folder([&](const fs::path& path) {
      const int watch = ::inotify_add_watch(fd, path.c_str(), kFolderEvents | IN_ONLYDIR);
      if (watch < 0) return;
      watches[watch] = path;
      there = true;
    });
    if (there && parent_watch >= 0) {
      ::inotify_rm_watch(fd, parent_watch);
      parent_watch = -1;
    }
  }

  template <class F>
  void each_folder(F&& visit) const {
    std::error_code error;
    if (!fs::is_directory(folder, error)) return;
    visit(folder);
    std::size_t seen = 1;
    fs::recursive_directory_iterator it(folder, fs::directory_options::skip_permission_denied,
                                        error);
    for (; !error && it != fs::recursive_directory_iterator(); it.increment(error)) {
      std::error_code gone;
      if (!it->is_directory(gone)) continue;
      if (is_editors_name(it->path().filename().native())) {
        it.disable_recursion_pending();
        continue;
      }
      if (++seen > options.folders_max) return;
      visit(it->path());
    }
  }

  Snapshot look() const {
    Snapshot seen;
    each_folder([&](const fs::path& path) {
      seen.emplace(path.native() + "/", FileState{});
      std::error_code error;
      for (fs::directory_iterator it(path, error);
           !error && it != fs::directory_iterator() && seen.size() < options.files_max;
           it.increment(error)) {
        if (is_editors_name(it->path().filename().native())) continue;
        std::error_code gone;
        if (it->is_directory(gone)) continue;
        if (const auto state = state_of(it->path())) seen.emplace(it->path().native(), *state);
      }
    });
    return seen;
  }

  // --- inotify ---

  void read() {
    events.async_read_some(asio::buffer(buffer),
                           [me = shared_from_this()](const error_code& error, std::size_t size) {
                             if (me->ended || error == asio::error::operation_aborted) return;
                             if (error) {  // the poll remains
                               me->close_events();
                               return;
                             }
                             me->take(size);
                             me->read();
                           });
  }

  void take(std::size_t size) {
    bool relevant = false;
    bool folders_changed = false;
    for (std::size_t at = 0; at + sizeof(inotify_event) <= size;) {
      inotify_event event;
      std::memcpy(&event, buffer.data() + at, sizeof event);
      const char* name = event.len > 0 ? buffer.data() + at + sizeof event : "";
      relevant = judge(event, name, folders_changed) || relevant;
      at += sizeof event + event.len;
    }
    if (folders_changed) watch_all();
    if (relevant) sign();
  }

  bool judge(const inotify_event& event, std::string_view name, bool& folders_changed) {
    if ((event.mask & IN_Q_OVERFLOW) != 0) return folders_changed = true;
    if ((event.mask & IN_IGNORED) != 0) {
      watches.erase(event.wd);
      return false;
    }
    const auto watch = watches.find(event.wd);
    if (watch == watches.end()) {
      const bool ours = event.wd == parent_watch && name == folder.filename().native();
      folders_changed = folders_changed || ours;
      return ours;
    }
    if ((event.mask & (IN_DELETE_SELF | IN_MOVE_SELF)) != 0) {
      if ((event.mask & IN_MOVE_SELF) != 0) {
        ::inotify_rm_watch(events.native_handle(), event.wd);
      }
      return folders_changed = true;
    }
    if (is_editors_name(name)) return false;
    if ((event.mask & IN_ISDIR) != 0) {
      const bool comes_or_goes = (event.mask & IN_ATTRIB) == 0;
      folders_changed = folders_changed || comes_or_goes;
      return comes_or_goes;
    }
    // A new regular file is told when its writer closes it.
    if ((event.mask & IN_CREATE) != 0) return is_linked(watch->second / name);
    return true;
  }

  void close_events() {
    error_code ignored;
    events.close(ignored);
    watches.clear();
  }

  // --- settling, telling ---

  void sign() {
    const auto now = asio::steady_timer::clock_type::now();
    if (!first_sign) first_sign = now;
    settled.expires_at(std::min(now + options.settle, *first_sign + options.settle_max));
    settled.async_wait([me = shared_from_this()](const error_code& error) {
      if (!error && !me->ended) me->tell();
    });
  }

  void tell() {
    first_sign.reset();
    watch_all();
    snapshot = look();
    changed();
  }

  void arm_poll() {
    poll.expires_after(options.poll);
    poll.async_wait([me = shared_from_this()](const error_code& error) {
      if (error || me->ended) return;
      me->watch_all();
      if (me->look() != me->snapshot && !me->first_sign) me->sign();
      me->arm_poll();
    });
  }
};

FolderWatch::FolderWatch(asio::io_context& loop, fs::path folder, std::function<void()> changed,
                         Options options)
    : impl_(std::make_shared<Impl>(loop, std::move(folder), std::move(changed), options)) {
  impl_->start();
}

FolderWatch::FolderWatch(asio::io_context& loop, fs::path folder, std::function<void()> changed)
    : FolderWatch(loop, std::move(folder), std::move(changed), Options{}) {}

FolderWatch::~FolderWatch() {
  impl_->ended = true;
  impl_->close_events();
  impl_->settled.cancel();
  impl_->poll.cancel();
}

bool FolderWatch::by_inotify() const { return impl_->events.is_open(); }

}  // namespace tubwarden
