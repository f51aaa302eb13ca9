// What changes, told to every page that is open: asked for once, made into an event once, and
// shared. For the files of this room only.
// Threading: the loop's thread. Failure: an answer that fails or is too large tells nothing; the
// next change tries again.
#pragma once

#include <boost/asio/io_context.hpp>
#include <functional>
#include <memory>
#include <string>

#include "ports/clock.hpp"
#include "shell/sheet/sheet_server.hpp"

namespace tubwarden::sheet {

/// One reader of events.
class LiveReader {
 public:
  virtual ~LiveReader() = default;
  virtual void tell(std::shared_ptr<const std::string> event) = 0;
};

class LiveHub {
 public:
  LiveHub(boost::asio::io_context& loop, const Clock& clock, SheetServer::Ask ask,
          const SheetLimits& limits, SheetCounters& counters);
  ~LiveHub();
  /// Tells it the whole state, and from then on what differs.
  void join(const std::shared_ptr<LiveReader>& reader);
  void leave(const LiveReader* reader);
  void changed();
  void stop();

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace tubwarden::sheet
