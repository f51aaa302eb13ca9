// The sheet: a small web page, and what it asks and does, over HTTP/1.1 on the daemon's own loop.
// Its interface for programs is docs/sheet-api.yaml.
// Threading: on the loop's thread. Failure: a wrong, slow or oversized request is refused and
// counted; an address that cannot be had is tried again. Nothing of it stops the daemon.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "base/result.hpp"
#include "base/time.hpp"
#include "ports/clock.hpp"

namespace tubwarden {

/// Where it listens, and who may come in.
struct SheetOptions {
  std::string address = "127.0.0.1";  ///< IPv4 or IPv6
  std::uint16_t port = 8437;
  std::string tokens_file;  ///< empty: nobody needs a token, and only loopback is listened on
  std::string cert_file, key_file;  ///< both or none: TLS
  std::string name;                 ///< a further host name that a browser may call it by
  std::string proxy;                ///< the address whose X-Forwarded-* are believed; empty: none
  std::string cookie_key;           ///< 32 bytes or more; signs what a browser keeps
};

/// What one sheet puts up with.
struct SheetLimits {
  int connections_max = 64;
  int an_address_max = 16;  ///< of one address that is neither loopback nor the proxy
  int live_max = 56;        ///< of the connections; the rest is for questions
  std::size_t header_bytes_max = 8 * 1024;
  std::size_t body_bytes_max = 64 * 1024;
  std::size_t live_bytes_max = 256 * 1024;  ///< that wait for one slow reader
  Duration header_within = seconds(5);      ///< TLS handshake likewise
  Duration body_within = seconds(10);
  Duration idle_max = seconds(30);
  Duration taken_within = seconds(15);  ///< an answer
  Duration live_every = seconds(1);
  Duration heartbeat_every = seconds(15);
  int opened_a_second_max = 20;  ///< with TLS, whose handshake is dear; ten times that without
};

/// What the limits cost, since the start; the last three are of now.
struct SheetCounters {
  std::uint64_t requests = 0;      ///< whole ones
  std::uint64_t malformed = 0;     ///< no HTTP, or none that is taken here
  std::uint64_t too_large = 0;     ///< a header or body over its limit
  std::uint64_t too_slow = 0;      ///< cut off: header, body or answer took too long
  std::uint64_t too_many = 0;      ///< connections over the limit
  std::uint64_t paced = 0;         ///< times at which accepting waited
  std::uint64_t foreign = 0;       ///< refused: another host name, or from another site's page
  std::uint64_t wrong_tokens = 0;  ///< refused
  std::uint64_t locked_out = 0;    ///< refused unread, after too many of these
  std::uint64_t live_dropped = 0;  ///< live readers that were too slow
  std::uint64_t live_events = 0;   ///< made, each once for all readers
  int connections = 0;
  int live = 0;
  bool listening = false;
};

class SheetServer {
 public:
  using Reply = std::function<void(Result<std::string>)>;
  /// Asks the warden: what, args as JSON, who; answered exactly once, on the loop's thread.
  using Ask = std::function<void(const std::string& what, const std::string& args_json,
                                 const std::string& who, Reply reply)>;
  using Log = std::function<void(const std::string&)>;

  SheetServer(boost::asio::io_context& loop, const Clock& clock, SheetOptions options, Ask ask,
              Log log, SheetLimits limits = {});
  ~SheetServer();
  /// Reads certificate and tokens, and listens; an address that is not there yet is tried again
  /// each few seconds. An error is one of the files.
  Outcome start();
  /// Something may have changed: live readers are told, soon and once.
  void changed();
  void stop();
  SheetCounters counters() const;
  /// The port listened on; 0 while there is none.
  std::uint16_t port() const;

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden
