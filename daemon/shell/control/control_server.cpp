#include "shell/control/control_server.hpp"

#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <list>
#include <optional>

#include "shell/control/client.hpp"
#include "shell/control/socket_file.hpp"
#include "shell/control/wire.hpp"

namespace tubwarden {
namespace {

namespace asio = boost::asio;
using Local = asio::local::stream_protocol;
using boost::system::error_code;

/// Out of file descriptors, an accept fails at once and would spin.
constexpr Duration kAcceptAgain = milliseconds(200);

}  // namespace

struct ControlServer::Impl : std::enable_shared_from_this<ControlServer::Impl> {
  Impl(asio::io_context& l, std::string p, Handler h, ControlLimits m)
      : loop(l), acceptor(l), again(l), path(std::move(p)) {
    shared = std::make_shared<control::Shared>();
    shared->handler = std::move(h);
    shared->limits = m;
  }

  asio::io_context& loop;
  Local::acceptor acceptor;
  asio::steady_timer again;
  std::string path;
  std::optional<control::SocketFile> file;
  std::shared_ptr<control::Shared> shared;
  std::list<std::weak_ptr<control::Client>> clients;

  void accept() {
    acceptor.async_accept([self = shared_from_this()](error_code code, Local::socket socket) {
      if (!self->acceptor.is_open()) return;
      if (code) return self->accept_later();
      self->take(std::move(socket));
      self->accept();
    });
  }

  void accept_later() {
    again.expires_after(kAcceptAgain);
    again.async_wait([self = shared_from_this()](error_code code) {
      if (!code && self->acceptor.is_open()) self->accept();
    });
  }

  void take(Local::socket socket) {
    clients.remove_if([](const auto& client) { return client.expired(); });
    if (shared->counters.clients >= shared->limits.clients_max) {
      ++shared->counters.too_many;
      const std::string line = wire::answer_line(
          Error{ErrorCode::unavailable, "too many clients are connected (" +
                                            std::to_string(shared->limits.clients_max) +
                                            "); end one, or try again later"});
      error_code ignored;
      socket.non_blocking(true, ignored);
      socket.send(asio::buffer(line), 0, ignored);
      return;
    }
    auto client = std::make_shared<control::Client>(shared, std::move(socket), loop);
    clients.push_back(client);
    client->read();
  }
};

ControlServer::ControlServer(asio::io_context& loop, std::string path, Handler handler,
                             ControlLimits limits)
    : impl_(std::make_shared<Impl>(loop, std::move(path), std::move(handler), limits)) {}

ControlServer::~ControlServer() { stop(); }

Outcome ControlServer::start() {
  auto bound = control::SocketFile::bind(impl_->path);
  if (!bound.ok()) return bound.error();
  impl_->file.emplace(std::move(*bound));
  error_code code;
  impl_->acceptor.assign(Local(), impl_->file->release_listener(), code);
  if (code) {
    return Error{ErrorCode::unavailable,
                 "the control socket " + impl_->path + " cannot be used: " + code.message()};
  }
  impl_->accept();
  return Done{};
}

void ControlServer::stop() {
  error_code ignored;
  impl_->acceptor.close(ignored);
  impl_->again.cancel();
  for (const auto& weak : impl_->clients) {
    if (const auto client = weak.lock()) client->hang_up();
  }
  impl_->clients.clear();
  impl_->file.reset();
}

ControlCounters ControlServer::counters() const { return impl_->shared->counters; }

}  // namespace tubwarden
