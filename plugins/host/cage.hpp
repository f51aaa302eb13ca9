// Which files a driver may touch, by Landlock where the kernel has it: to read what programs and
// libraries need, and to read and write what its options of type `device` name. The kernel widens
// no such rule again: a host whose outputs need more files has to be started anew.
// Threading: the host's main thread, before the plugin has threads of its own: those, and what they
// start, are held as well; the host's watchdog, which starts the safe-run, is not.
// Failure: files that are not held are told with the reason; the host goes on.
#pragma once

#include <sys/stat.h>
#include <sys/types.h>
#include <time.h>

#include <map>
#include <string>
#include <vector>

#include "sdk/plugin.h"
#include "sdk/protocol.hpp"

namespace tubwarden::host {

/// A file that an output's wiring or its site names.
struct NamedFile {
  std::string path;
  bool writes = false;
  auto operator<=>(const NamedFile&) const = default;
};
std::vector<NamedFile> named_files(const tw_plugin& plugin, const protocol::Open& output);

class Cage {
 public:
  Cage(const tw_plugin& plugin, std::string plugin_path)
      : plugin_(plugin), plugin_path_(std::move(plugin_path)) {}

  /// Once: holds the calling thread, and all it will start, to what these outputs name.
  protocol::Limit lock(const std::vector<protocol::Open>& outputs);
  bool asked() const { return asked_; }

  /// Whether the files that this output names are among those allowed, as they are now: a device
  /// that was plugged in anew is another one by the same name.
  bool covers(const protocol::Open& output) const;

 private:
  struct Allowed {
    bool writes = false;
    bool by_folder = false;  ///< it was not there: its folder is allowed instead
    dev_t device = 0;
    ino_t inode = 0;  ///< 0: it was not there
    /// Of a device's node only: a new one may have the number of the old.
    timespec changed{};
  };
  static bool same(const Allowed& then, const struct stat& now);

  const tw_plugin& plugin_;
  std::string plugin_path_;
  bool asked_ = false;
  bool holds_ = false;
  std::map<std::string, Allowed> allowed_;
};

}  // namespace tubwarden::host
