// A file of which this very process is the disk, through the kernel's FUSE: what is written to it
// is heard here, and a write that is not answered holds its writer in the kernel, where not even
// SIGKILL reaches it. Threading: a thread of its own answers the kernel; the rest is the test's.
// Failure: `missing()` says why there can be none here; anything else throws.
#pragma once

#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

namespace tubwarden {

class FuseFile {
 public:
  /// Nothing when this machine and user can mount one.
  static std::optional<std::string> missing();

  /// Mounts below `folder`, in a mount namespace that this process takes for itself.
  explicit FuseFile(const std::filesystem::path& folder);
  ~FuseFile();
  FuseFile(const FuseFile&) = delete;
  FuseFile& operator=(const FuseFile&) = delete;

  std::filesystem::path path() const { return folder_ / "relay"; }

  struct Written {
    std::string text;
    std::chrono::steady_clock::time_point at;
  };
  /// All that was written, in order; that which is not answered yet, too.
  std::vector<Written> written() const;

  /// From now on writes are heard and not answered.
  void hold();
  /// Answers what was held, and goes on.
  void let_go();
  std::size_t held() const;

 private:
  void serve();
  void answer(const std::string& request);
  void reply(std::uint64_t unique, int error, const void* data, std::size_t size);

  std::filesystem::path folder_;
  int device_ = -1;
  mutable std::mutex lock_;
  bool holding_ = false;
  std::vector<std::pair<std::uint64_t, std::uint32_t>> held_;  ///< request, bytes
  std::vector<Written> written_;
  std::thread thread_;
};

}  // namespace tubwarden
