// The control socket: one JSON object a line, {"do", "args"} -> {"ok", "result" | "error"}.
// Threading: on the loop's thread. Failure: a malformed, oversized or idle client is answered or
// cut off and counted; it never stops the daemon.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden {

struct ControlRequest {
  std::string what;       ///< "status", "phase", ...
  std::string args_json;  ///< one JSON object
  std::string who;        ///< the peer's user name (SO_PEERCRED), or its number
};

/// What one socket puts up with.
struct ControlLimits {
  int clients_max = 32;
  Duration idle_max = minutes(5);      ///< without a whole line, while no request is pending
  Duration untaken_max = seconds(30);  ///< an answer that its client does not read
};

/// What the limits cost, since the start.
struct ControlCounters {
  std::uint64_t requests = 0;   ///< handed to the handler
  std::uint64_t malformed = 0;  ///< answered with bad_input, never handed on
  std::uint64_t too_long = 0;   ///< lines above 64 KiB; answered, then cut off
  std::uint64_t too_many = 0;   ///< clients above the limit; answered, then cut off
  std::uint64_t cut_off = 0;    ///< idle clients, and clients that did not read their answer
  int clients = 0;              ///< connected now
};

class ControlServer {
 public:
  /// Answers with the result as JSON text, or an error; exactly once, on the loop's thread, any
  /// time.
  using Reply = std::function<void(Result<std::string>)>;
  using Handler = std::function<void(const ControlRequest&, Reply)>;

  ControlServer(boost::asio::io_context& loop, std::string path, Handler handler,
                ControlLimits limits = {});
  ~ControlServer();
  /// Binds the socket (mode 0660; a stale one is replaced, a live one is refused).
  Outcome start();
  /// Closes the socket and its clients, and removes its file if it is still ours.
  void stop();
  ControlCounters counters() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden
