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

namespace tubwarden {

struct ControlRequest {
  std::string what;       ///< "status", "phase", ...
  std::string args_json;  ///< one JSON object
  std::string who;        ///< the peer's user name (SO_PEERCRED), or its number
};

class ControlServer {
 public:
  /// Answers with the result as JSON text, or an error; exactly once, on the loop's thread, any
  /// time.
  using Reply = std::function<void(Result<std::string>)>;
  using Handler = std::function<void(const ControlRequest&, Reply)>;

  ControlServer(boost::asio::io_context& loop, std::string path, Handler handler);
  ~ControlServer();
  /// Binds the socket (mode 0660; a stale one is replaced, a live one is refused).
  Outcome start();
  void stop();

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden
