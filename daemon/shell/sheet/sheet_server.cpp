#include "shell/sheet/sheet_server.hpp"

#include <fmt/format.h>
#include <sys/socket.h>

#include <algorithm>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <list>

#include "shell/sheet/answers.hpp"
#include "shell/sheet/visit.hpp"

namespace tubwarden {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

constexpr Duration kListenAgain = seconds(5);
constexpr Duration kPause = milliseconds(50);
constexpr int kWithoutTls = 10;  ///< times as many connections a second
/// What the kernel keeps for one slow reader.
constexpr int kSendBytes = 128 * 1024;

/// A caller by IPv4 at a socket of IPv6 is told by its IPv4 address.
asio::ip::address plain_form(const asio::ip::address& address) {
  if (!address.is_v6() || !address.to_v6().is_v4_mapped()) return address;
  return asio::ip::make_address_v4(asio::ip::v4_mapped, address.to_v6());
}

/// As plain_form() tells addresses, so that the two can be compared.
std::string plain_form(const std::string& text) {
  error_code code;
  const auto address = asio::ip::make_address(text, code);
  return code ? text : plain_form(address).to_string();
}

}  // namespace

struct SheetServer::Impl : std::enable_shared_from_this<SheetServer::Impl> {
  Impl(asio::io_context& l, const Clock& c, SheetOptions o, Ask a, Log g, SheetLimits m)
      : loop(l),
        clock(c),
        options(std::move(o)),
        log(std::move(g)),
        acceptor(l),
        again(l),
        shared(std::make_shared<sheet::VisitParts>()),
        doors(c, options, shared->counters, log),
        answers(doors, a, shared->limits, shared->counters) {
    options.proxy = plain_form(options.proxy);
    shared->limits = m;
    shared->hub = std::make_unique<sheet::LiveHub>(l, c, a, shared->limits, shared->counters);
  }

  asio::io_context& loop;
  const Clock& clock;
  SheetOptions options;
  Log log;
  tcp::acceptor acceptor;
  asio::steady_timer again;
  std::shared_ptr<sheet::VisitParts> shared;
  sheet::Doors doors;
  sheet::Answers answers;
  std::shared_ptr<sheet::TlsFiles> tls;
  std::list<std::weak_ptr<sheet::Visit>> visits;
  bool over = false, told = false;
  double may_open = 0;  ///< connections, by pace
  Instant paced_at{};

  Outcome start() {
    if (!options.cert_file.empty()) {
      auto files = sheet::TlsFiles::read(options.cert_file, options.key_file);
      if (!files.ok()) return files.error();
      tls = std::move(*files);
    }
    if (const Outcome open = doors.open(); !open.ok()) return open;
    shared->answer = [weak = weak_from_this()](const std::shared_ptr<sheet::Request>& request,
                                               sheet::Answered reply) {
      if (const auto self = weak.lock()) self->answers.answer(*request, std::move(reply));
    };
    may_open = pace();
    paced_at = clock.now();
    listen();
    return Done{};
  }

  double pace() const { return shared->limits.opened_a_second_max * (tls ? 1.0 : kWithoutTls); }

  void listen() {
    error_code code;
    const auto address = asio::ip::make_address(options.address, code);
    const tcp::endpoint at(address, options.port);
    if (!code) acceptor.open(at.protocol(), code);
    if (!code) acceptor.set_option(tcp::acceptor::reuse_address(true), code);
    if (!code) acceptor.bind(at, code);
    if (!code) acceptor.listen(tcp::acceptor::max_listen_connections, code);
    shared->counters.listening = !code;
    if (!code) {
      log(fmt::format("the sheet is at {}://{}", tls ? "https" : "http", where()));
      return accept();
    }
    error_code ignored;
    acceptor.close(ignored);
    if (!told) {
      log(fmt::format("the sheet cannot listen at {}: {}; it is tried again", where(),
                      code.message()));
    }
    told = true;
    later(kListenAgain, [](Impl& self) { self.listen(); });
  }

  std::string where() const {
    const bool six = options.address.find(':') != std::string::npos;
    const std::uint16_t port = port_now() ? port_now() : options.port;
    return six ? fmt::format("[{}]:{}", options.address, port)
               : fmt::format("{}:{}", options.address, port);
  }

  std::uint16_t port_now() const {
    error_code code;
    const auto at = acceptor.is_open() ? acceptor.local_endpoint(code) : tcp::endpoint();
    return code ? 0 : at.port();
  }

  template <class Work>
  void later(Duration wait, Work work) {
    again.expires_after(wait);
    again.async_wait([weak = weak_from_this(), work](error_code code) {
      const auto self = weak.lock();
      if (!code && self && !self->over) work(*self);
    });
  }

  /// Who connects faster than is good for the daemon waits in the kernel's queue.
  void accept() {
    const Instant now = clock.now();
    may_open = std::min(pace(), may_open + seconds_of(now - paced_at) * pace());
    paced_at = now;
    if (may_open < 1.0) {
      ++shared->counters.paced;
      return later(kPause, [](Impl& self) { self.accept(); });
    }
    acceptor.async_accept([self = shared_from_this()](error_code code, tcp::socket socket) {
      if (self->over) return;
      // Out of file descriptors, an accept fails at once and would spin.
      if (code) return self->later(kPause, [](Impl& impl) { impl.accept(); });
      self->may_open -= 1.0;
      self->take(std::move(socket));
      self->accept();
    });
  }

  bool has_room(const asio::ip::address& from) {
    visits.remove_if([](const auto& visit) { return visit.expired(); });
    if (static_cast<int>(visits.size()) >= shared->limits.connections_max) return false;
    if (from.is_loopback() || from.to_string() == options.proxy) return true;
    const std::string household = sheet::household(from.to_string());
    const auto same = std::count_if(visits.begin(), visits.end(), [&](const auto& weak) {
      const auto visit = weak.lock();
      return visit && sheet::household(visit->peer()) == household;
    });
    return same < shared->limits.an_address_max;
  }

  void take(tcp::socket socket) {
    error_code code;
    const auto from = plain_form(socket.remote_endpoint(code).address());
    if (code) return;
    if (!has_room(from)) {
      ++shared->counters.too_many;
      return;  // closed with the socket
    }
    socket.set_option(tcp::no_delay(true), code);
    socket.set_option(asio::socket_base::send_buffer_size(kSendBytes), code);
    auto wire = tls ? tls->wire(std::move(socket)) : sheet::plain_wire(std::move(socket));
    auto visit = std::make_shared<sheet::Visit>(shared, std::move(wire), loop, from.to_string(),
                                                tls != nullptr);
    visits.push_back(visit);
    visit->begin();
  }

  void stop() {
    over = true;
    error_code ignored;
    acceptor.close(ignored);
    again.cancel();
    shared->hub->stop();
    for (const auto& weak : visits) {
      if (const auto visit = weak.lock()) visit->close();
    }
    visits.clear();
    shared->counters.listening = false;
  }
};

SheetServer::SheetServer(asio::io_context& loop, const Clock& clock, SheetOptions options, Ask ask,
                         Log log, SheetLimits limits)
    : impl_(std::make_shared<Impl>(loop, clock, std::move(options), std::move(ask), std::move(log),
                                   limits)) {}

SheetServer::~SheetServer() { stop(); }
Outcome SheetServer::start() { return impl_->start(); }
void SheetServer::changed() { impl_->shared->hub->changed(); }
void SheetServer::stop() { impl_->stop(); }
SheetCounters SheetServer::counters() const { return impl_->shared->counters; }
std::uint16_t SheetServer::port() const { return impl_->port_now(); }

}  // namespace tubwarden
