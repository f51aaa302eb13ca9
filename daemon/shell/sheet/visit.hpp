// One connection: requests one after the other, or events. For the files of this room only.
// Threading: the loop's thread. Failure: what is wrong or late is answered where it can be,
// counted, and ends this connection only.
#pragma once

#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <functional>
#include <memory>
#include <string>

#include "shell/sheet/http_reader.hpp"
#include "shell/sheet/live.hpp"
#include "shell/sheet/message.hpp"
#include "shell/sheet/wire.hpp"

namespace tubwarden::sheet {

/// What all connections share, and the last of them still has.
struct VisitParts {
  SheetLimits limits;
  SheetCounters counters;
  std::unique_ptr<LiveHub> hub;
  std::function<void(const std::shared_ptr<Request>&, Answered)> answer;
};

class Visit : public LiveReader, public std::enable_shared_from_this<Visit> {
 public:
  Visit(std::shared_ptr<VisitParts> parts, std::unique_ptr<Wire> wire,
        boost::asio::io_context& loop, std::string peer, bool encrypted);
  ~Visit() override;
  void begin();
  void close();
  void tell(std::shared_ptr<const std::string> event) override;
  const std::string& peer() const { return peer_; }

 private:
  enum class Stage { opening, idle, header, body, answering, writing, live, leaving, closed };
  /// The stage, and when it has lasted too long.
  void enter(Stage stage);
  void arm(Duration within);
  void deadline_passed();
  void read();
  void took(HttpReader::State state);
  void handle();
  void answered(Answer answer);
  void written(bool whole);
  void refuse(int status, const char* why);
  void write_event();
  void watch_live();

  std::shared_ptr<VisitParts> parts_;
  std::unique_ptr<Wire> wire_;
  boost::asio::steady_timer timer_;
  std::string peer_;
  bool encrypted_;
  HttpReader reader_;
  Stage stage_ = Stage::opening;
  bool keep_alive_ = true, reading_ = false, becomes_live_ = false, writing_event_ = false;
  std::string out_;
  std::deque<std::shared_ptr<const std::string>> events_;
  std::size_t events_bytes_ = 0, discarded_ = 0;
  std::uint64_t armed_ = 0;  ///< which deadline counts
};

}  // namespace tubwarden::sheet
