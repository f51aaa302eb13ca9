#include "system/broker/gate.hpp"

#include <array>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/write.hpp>
#include <vector>

namespace tubwarden {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

/// One connection: two sockets, each read and written to the other.
struct Pair : std::enable_shared_from_this<Pair> {
  tcp::socket client, broker;
  std::array<char, 4096> up{}, down{};
  bool first = true;
  Gate::Manner manner;
  int* refused;

  Pair(asio::io_context& loop, tcp::socket c, Gate::Manner m, int* r)
      : client(std::move(c)), broker(loop), manner(m), refused(r) {}

  void close() {
    error_code ignored;
    client.close(ignored);
    broker.close(ignored);
  }

  /// CONNECT: fixed header (type, length of 1 byte here), name "MQTT" with its length, level.
  bool is_mqtt5_connect(std::size_t size) const {
    return size > 8 && up[0] == 0x10 && up[1] >= 0 && up[8] == 5;
  }

  bool refuses(std::size_t size) {
    if (!std::exchange(first, false) || !is_mqtt5_connect(size)) return false;
    static constexpr std::array<char, 4> kAs311 = {0x20, 2, 0, 1};
    static constexpr std::array<char, 5> kAs5 = {0x20, 3, 0, static_cast<char>(0x84), 0};
    error_code ignored;
    if (manner == Gate::Manner::refuse_5_as_311) asio::write(client, asio::buffer(kAs311), ignored);
    if (manner == Gate::Manner::refuse_5_as_5) asio::write(client, asio::buffer(kAs5), ignored);
    const bool refused_now =
        manner == Gate::Manner::refuse_5_as_311 || manner == Gate::Manner::refuse_5_as_5;
    if (refused_now) {
      ++*refused;
      client.shutdown(tcp::socket::shutdown_both, ignored);
      close();
    }
    return refused_now;
  }

  void alter(std::size_t size) {
    if (manner == Gate::Manner::refuse_subscriptions && down[0] == static_cast<char>(0x90)) {
      down[size - 1] = static_cast<char>(0x87);  // SUBACK's last byte: the last topic's code
    }
  }

  void pump_up() {
    client.async_read_some(
        asio::buffer(up), [me = shared_from_this()](error_code e, std::size_t n) {
          if (e) return me->close();
          if (me->refuses(n)) return;
          asio::async_write(me->broker, asio::buffer(me->up, n), [me](error_code w, std::size_t) {
            if (w) return me->close();
            me->pump_up();
          });
        });
  }

  void pump_down() {
    broker.async_read_some(
        asio::buffer(down), [me = shared_from_this()](error_code e, std::size_t n) {
          if (e) return me->close();
          me->alter(n);
          asio::async_write(me->client, asio::buffer(me->down, n), [me](error_code w, std::size_t) {
            if (w) return me->close();
            me->pump_down();
          });
        });
  }
};

}  // namespace

struct Gate::Impl : std::enable_shared_from_this<Impl> {
  asio::io_context& loop;
  tcp::acceptor acceptor;
  tcp::endpoint broker;
  Manner manner;
  int connects = 0;
  int refused = 0;
  std::vector<std::weak_ptr<Pair>> pairs;

  Impl(asio::io_context& l, std::uint16_t port, Manner m)
      : loop(l),
        acceptor(l, tcp::endpoint(asio::ip::address_v4::loopback(), 0)),
        broker(asio::ip::address_v4::loopback(), port),
        manner(m) {}

  void accept() {
    acceptor.async_accept([me = shared_from_this()](error_code error, tcp::socket client) {
      if (error) return;
      ++me->connects;
      auto pair = std::make_shared<Pair>(me->loop, std::move(client), me->manner, &me->refused);
      error_code down;
      pair->broker.connect(me->broker, down);
      if (!down) {
        pair->client.set_option(tcp::no_delay(true));
        pair->broker.set_option(tcp::no_delay(true));
        me->pairs.push_back(pair);
        pair->pump_up();
        pair->pump_down();
      }
      me->accept();
    });
  }
};

Gate::Gate(asio::io_context& loop, std::uint16_t broker_port, Manner manner)
    : impl_(std::make_shared<Impl>(loop, broker_port, manner)) {
  impl_->accept();
}

Gate::~Gate() {
  error_code ignored;
  impl_->acceptor.close(ignored);
  cut();
}

std::string Gate::url() const {
  return "mqtt://127.0.0.1:" + std::to_string(impl_->acceptor.local_endpoint().port());
}
int Gate::connects() const { return impl_->connects; }
int Gate::refused() const { return impl_->refused; }

void Gate::cut() {
  for (const auto& weak : impl_->pairs) {
    if (const auto pair = weak.lock()) pair->close();
  }
  impl_->pairs.clear();
}

void PrintTo(Gate::Manner manner, std::ostream* out) {
  switch (manner) {
    case Gate::Manner::pass:
      *out << "pass";
      return;
    case Gate::Manner::refuse_5_as_311:
      *out << "refuse_5_as_311";
      return;
    case Gate::Manner::refuse_5_as_5:
      *out << "refuse_5_as_5";
      return;
    case Gate::Manner::refuse_subscriptions:
      *out << "refuse_subscriptions";
      return;
  }
}

}  // namespace tubwarden
