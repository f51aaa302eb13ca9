// Watches the configuration folder and its subfolders: inotify, settled, with a poll as backstop.
// It tells that something changed, not what: the reader reads all. Editors' temporary names are
// passed over; saving by rename, a folder removed and made again, and symbolic links count.
// Threading: constructed, told and destroyed on the loop's thread. Failure: without inotify (or
// over its limits) the poll alone remains, and by_inotify() says so.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <memory>
#include <string_view>

#include "base/time.hpp"

namespace tubwarden {

/// Whether a name is one that editors leave for a moment: dot files, "x~", "x.swp", "x.swx",
/// "x.tmp", "#x#", and "4913", by which vim tries out a folder.
bool is_editors_name(std::string_view name);

class FolderWatch {
 public:
  struct Options {
    Duration settle = milliseconds(150);      ///< quiet for so long before it is told
    Duration settle_max = milliseconds(600);  ///< told by then even if it never is quiet
    Duration poll = seconds(30);
    bool inotify = true;  ///< false: the poll alone
    std::size_t folders_max = 64;
    std::size_t files_max = 4096;  ///< the poll compares no more
  };
  FolderWatch(boost::asio::io_context& loop, std::filesystem::path folder,
              std::function<void()> changed, Options options);
  FolderWatch(boost::asio::io_context& loop, std::filesystem::path folder,
              std::function<void()> changed);
  ~FolderWatch();

  bool by_inotify() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden
