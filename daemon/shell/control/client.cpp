#include "shell/control/client.hpp"

#include <pwd.h>
#include <sys/socket.h>

#include <array>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <istream>

#include "shell/control/wire.hpp"

namespace tubwarden::control {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

std::string peer_name(int fd) {
  ucred credentials{};
  socklen_t size = sizeof(credentials);
  if (::getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &credentials, &size) != 0) return "unknown";
  passwd entry{};
  passwd* found = nullptr;
  std::array<char, 4096> buffer{};
  if (::getpwuid_r(credentials.uid, &entry, buffer.data(), buffer.size(), &found) == 0 && found) {
    return found->pw_name;
  }
  return std::to_string(credentials.uid);
}

}  // namespace

Client::Client(std::shared_ptr<Shared> shared, Socket socket, asio::io_context& loop)
    : shared_(std::move(shared)),
      socket_(std::move(socket)),
      limit_(loop),
      buffer_(wire::kLineMax) {
  ++shared_->counters.clients;
  who_ = peer_name(socket_.native_handle());
}

Client::~Client() { --shared_->counters.clients; }

void Client::read() {
  cut_off_after(shared_->limits.idle_max);
  asio::async_read_until(socket_, buffer_, '\n',
                         [self = shared_from_this()](error_code code, std::size_t) {
                           self->no_limit();
                           self->take(code);
                         });
}

void Client::take(error_code code) {
  if (code == asio::error::not_found) {
    ++shared_->counters.too_long;
    return write(Error{ErrorCode::bad_input, "the line is longer than 64 KiB"}, true);
  }
  if (code) return hang_up();
  std::string line;
  std::istream stream(&buffer_);
  std::getline(stream, line);
  hand_on(line);
}

void Client::hand_on(const std::string& line) {
  auto request = wire::parse_request(line);
  if (!request.ok()) {
    ++shared_->counters.malformed;
    return write(request.error(), false);
  }
  ++shared_->counters.requests;
  shared_->handler(
      {request->what, request->args_json, who_},
      [self = shared_from_this()](Result<std::string> answer) { self->write(answer, false); });
}

void Client::write(const Result<std::string>& answer, bool last) {
  out_ = wire::answer_line(answer);
  cut_off_after(shared_->limits.untaken_max);
  asio::async_write(socket_, asio::buffer(out_),
                    [self = shared_from_this(), last](error_code code, std::size_t) {
                      self->no_limit();
                      if (code || last) return self->hang_up();
                      self->read();
                    });
}

void Client::cut_off_after(Duration limit) {
  limit_.expires_after(limit);
  limit_.async_wait([weak = weak_from_this()](error_code code) {
    const auto self = weak.lock();
    // A wait that ended while its limit was lifted is queued as a success.
    if (!self || code || self->limit_.expiry() > asio::steady_timer::clock_type::now()) return;
    ++self->shared_->counters.cut_off;
    self->hang_up();
  });
}

void Client::no_limit() { limit_.expires_at(asio::steady_timer::time_point::max()); }

void Client::hang_up() {
  error_code ignored;
  socket_.close(ignored);
}

}  // namespace tubwarden::control
