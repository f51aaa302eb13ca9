#include "shell/control/control_server.hpp"

#include <pwd.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/streambuf.hpp>
#include <boost/asio/write.hpp>
#include <filesystem>
#include <istream>

#include "base/time.hpp"
#include "shell/control/wire.hpp"

namespace tubwarden {
namespace {

namespace asio = boost::asio;
using Local = asio::local::stream_protocol;
using boost::system::error_code;

constexpr int kClientsMax = 32;
constexpr Duration kIdleMax = minutes(5);
constexpr mode_t kMode = 0660;

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

struct ControlServer::Impl : std::enable_shared_from_this<ControlServer::Impl> {
  Impl(asio::io_context& l, std::string p, Handler h)
      : loop(l), acceptor(l), path(std::move(p)), handler(std::move(h)) {}

  asio::io_context& loop;
  Local::acceptor acceptor;
  std::string path;
  Handler handler;
  int clients = 0;
  bool bound = false;

  /// One client: a line is read once the answer to the one before has been written, so answers keep
  /// their order and a client can hold back no more than one.
  struct Client : std::enable_shared_from_this<Client> {
    Client(std::shared_ptr<Impl> s, Local::socket k)
        : server(std::move(s)), socket(std::move(k)), idle(server->loop), buffer(wire::kLineMax) {
      ++server->clients;
      who = peer_name(socket.native_handle());
    }
    ~Client() { --server->clients; }

    std::shared_ptr<Impl> server;
    Local::socket socket;
    asio::steady_timer idle;
    asio::streambuf buffer;
    std::string who;
    std::string out;

    void read() {
      idle.expires_after(kIdleMax);
      idle.async_wait([weak = weak_from_this()](error_code code) {
        if (const auto self = weak.lock(); self && !code) self->hang_up();
      });
      asio::async_read_until(socket, buffer, '\n',
                             [self = shared_from_this()](error_code code, std::size_t) {
                               self->idle.cancel();
                               self->take(code);
                             });
    }

    void take(error_code code) {
      if (code == asio::error::not_found) {
        return write(Error{ErrorCode::bad_input, "the line is longer than 64 KiB"}, true);
      }
      if (code) return hang_up();
      std::string line;
      std::istream stream(&buffer);
      std::getline(stream, line);
      auto request = wire::parse_request(line);
      if (!request.ok()) return write(request.error(), false);
      server->handler(
          {request->what, request->args_json, who},
          [self = shared_from_this()](Result<std::string> answer) { self->write(answer, false); });
    }

    void write(const Result<std::string>& answer, bool last) {
      out = wire::answer_line(answer);
      asio::async_write(socket, asio::buffer(out),
                        [self = shared_from_this(), last](error_code code, std::size_t) {
                          if (code || last) return self->hang_up();
                          self->read();
                        });
    }

    void hang_up() {
      error_code ignored;
      socket.close(ignored);
    }
  };

  void accept() {
    acceptor.async_accept([self = shared_from_this()](error_code code, Local::socket socket) {
      if (code == asio::error::operation_aborted) return;
      if (!code && self->clients < kClientsMax) {
        std::make_shared<Client>(self, std::move(socket))->read();
      }
      self->accept();
    });
  }
};

ControlServer::ControlServer(asio::io_context& loop, std::string path, Handler handler)
    : impl_(std::make_shared<Impl>(loop, std::move(path), std::move(handler))) {}

ControlServer::~ControlServer() { stop(); }

Outcome ControlServer::start() {
  const std::string& path = impl_->path;
  if (path.size() >= sizeof(sockaddr_un::sun_path)) {
    return Error{ErrorCode::bad_input, "control: socket is too long for a socket: " + path};
  }
  std::error_code ignored;
  std::filesystem::create_directories(std::filesystem::path(path).parent_path(), ignored);
  error_code code;
  Local::socket probe(impl_->loop);
  probe.connect(Local::endpoint(path), code);
  if (!code) {
    return Error{ErrorCode::refused, "another tubwardend answers at " + path +
                                         "; stop it, or name another control: socket"};
  }
  if (std::filesystem::is_socket(path, ignored)) std::filesystem::remove(path, ignored);
  impl_->acceptor.open(Local(), code);
  if (!code) impl_->acceptor.bind(Local::endpoint(path), code);
  if (!code && ::chmod(path.c_str(), kMode) != 0)
    code.assign(errno, boost::system::system_category());
  if (!code) impl_->acceptor.listen(kClientsMax, code);
  if (code) {
    return Error{ErrorCode::unavailable,
                 "the control socket " + path + " cannot be made: " + code.message()};
  }
  impl_->bound = true;
  impl_->accept();
  return Done{};
}

void ControlServer::stop() {
  error_code ignored;
  impl_->acceptor.close(ignored);
  if (impl_->bound) ::unlink(impl_->path.c_str());
  impl_->bound = false;
}

}  // namespace tubwarden
