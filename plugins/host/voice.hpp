// What a plugin says, from any of its threads, carried to the host's main thread.
// Threading: a mouth's callbacks on any thread, but on_option; everything else on the main thread.
// Failure: what a full queue loses is counted and said.
#pragma once

#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "base/bounded_queue.hpp"
#include "host/plugin_options.hpp"
#include "sdk/plugin.h"
#include "sdk/protocol.hpp"

namespace tubwarden::host {

class Voice {
 public:
  Voice();
  ~Voice();
  Voice(const Voice&) = delete;
  Voice& operator=(const Voice&) = delete;

  /// One output's (or channel's) way to speak. Lives until its plugin's close() has returned.
  struct Mouth {
    Voice* voice = nullptr;
    std::string id;
    tw_host host{};
    std::string last_error;  ///< under the voice's lock
    bool confirms = false;   ///< likewise
    PluginOptions options;   ///< while open() or deliver() runs
  };
  std::unique_ptr<Mouth> mouth(std::string id);

  /// Readable while there is something to take().
  int event_fd() const { return event_; }
  /// All that was said since the last time, in order.
  std::vector<protocol::ToDaemon> take();
  /// Waits until something is said; false when `limit_ms` is over.
  bool wait(int limit_ms) const;

  /// The last error or warning that came through `mouth`, once; `otherwise` when there was none.
  std::string why(Mouth& mouth, const std::string& otherwise);
  bool confirms(const Mouth& mouth);

 private:
  void push(protocol::ToDaemon message);
  static void on_say(void* context, std::uint32_t level, const char* text) noexcept;
  static void on_confirm(void* context, std::uint32_t output, std::uint32_t level) noexcept;
  static void on_will_confirm(void* context, std::uint32_t output) noexcept;
  static void on_reachable(void* context, std::uint32_t output, std::uint32_t yes,
                           const char* why) noexcept;
  static const char* on_option(void* context, const char* name, std::uint32_t index) noexcept;

  int event_;
  std::mutex lock_;
  BoundedQueue<protocol::ToDaemon> queue_;
  std::uint64_t dropped_ = 0;  ///< since the last take()
};

}  // namespace tubwarden::host
