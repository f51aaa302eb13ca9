// One client of the control socket. For the files of this room only. Threading: on the loop's
// thread. Failure: whatever a client does ends that client, and nothing else.
#pragma once

#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/streambuf.hpp>
#include <memory>
#include <string>

#include "shell/control/control_server.hpp"

namespace tubwarden::control {

/// What all clients of a server share; outlives the server as long as one of them lives.
struct Shared {
  ControlServer::Handler handler;
  ControlLimits limits;
  ControlCounters counters;
};

/// A line is read once the answer to the one before has been written: answers keep their order, and
/// a client holds back no more than one.
class Client : public std::enable_shared_from_this<Client> {
 public:
  using Socket = boost::asio::local::stream_protocol::socket;

  Client(std::shared_ptr<Shared> shared, Socket socket, boost::asio::io_context& loop);
  ~Client();
  void read();
  void hang_up();

 private:
  void take(boost::system::error_code code);
  void hand_on(const std::string& line);
  void write(const Result<std::string>& answer, bool last);
  void cut_off_after(Duration limit);
  void no_limit();

  std::shared_ptr<Shared> shared_;
  Socket socket_;
  boost::asio::steady_timer limit_;
  boost::asio::streambuf buffer_;
  std::string who_;
  std::string out_;
};

}  // namespace tubwarden::control
