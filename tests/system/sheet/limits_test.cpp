// What the sheet puts up with, on real sockets, with limits short enough to wait for.
#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <sys/socket.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <future>
#include <thread>

#include "parts/parts.hpp"
#include "shell/loop/board_clock.hpp"
#include "shell/sheet/sheet_server.hpp"

namespace {

using namespace std::chrono_literals;
using namespace tubwarden;

/// A client that may be as slow as it likes.
class Client {
 public:
  explicit Client(std::uint16_t port, const std::string& from = "127.0.0.1") {
    fd_ = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const int small = 4096;
    ::setsockopt(fd_, SOL_SOCKET, SO_RCVBUF, &small, sizeof small);
    const timeval limit{10, 0};
    ::setsockopt(fd_, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit);
    sockaddr_in at{};
    at.sin_family = AF_INET;
    ::inet_pton(AF_INET, from.c_str(), &at.sin_addr);
    ::bind(fd_, reinterpret_cast<sockaddr*>(&at), sizeof at);
    at.sin_port = htons(port);
    ::inet_pton(AF_INET, "127.0.0.1", &at.sin_addr);
    connected_ = ::connect(fd_, reinterpret_cast<sockaddr*>(&at), sizeof at) == 0;
  }
  ~Client() { ::close(fd_); }
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;

  bool connected() const { return connected_; }
  bool send(const std::string& bytes) {
    return ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL) ==
           static_cast<ssize_t>(bytes.size());
  }
  /// All until the end, or until `sign` is in it.
  std::string read(const std::string& sign = "\r\n\r\n\r\nnever") {
    std::string all;
    char some[4096];
    while (all.find(sign) == std::string::npos) {
      const ssize_t n = ::recv(fd_, some, sizeof some, 0);
      if (n <= 0) break;
      all.append(some, static_cast<std::size_t>(n));
    }
    return all;
  }

 private:
  int fd_ = -1;
  bool connected_ = false;
};

const std::string kGet = "GET /api/status HTTP/1.1\r\nHost: localhost\r\n";

class Limits : public testing::Test {
 protected:
  Limits() {
    limits_.header_within = milliseconds(200);
    limits_.body_within = milliseconds(200);
    limits_.idle_max = milliseconds(300);
    limits_.taken_within = milliseconds(300);
    limits_.live_every = milliseconds(20);
    limits_.heartbeat_every = milliseconds(50);
    limits_.opened_a_second_max = 1000;
  }
  void start() {
    SheetOptions options;
    options.port = 0;
    const auto ask = [this](const std::string& what, const std::string&, const std::string&,
                            SheetServer::Reply reply) {
      reply(what == "live" ? live_ : R"({"status":")" + std::string(answer_bytes_, 'x') + "\"}");
    };
    server_ = std::make_unique<SheetServer>(
        loop_, clock_, options, ask, [](const std::string&) {}, limits_);
    ASSERT_TRUE(server_->start().ok());
    port_ = server_->port();
    ASSERT_NE(port_, 0);
    thread_ = std::thread([this] { loop_.run(); });
  }
  ~Limits() override {
    if (!thread_.joinable()) return;
    boost::asio::post(loop_, [this] {
      server_->stop();
      loop_.stop();
    });
    thread_.join();
  }
  SheetCounters counters() {
    std::promise<SheetCounters> told;
    boost::asio::post(loop_, [&] { told.set_value(server_->counters()); });
    return told.get_future().get();
  }
  void say(const std::string& live) {
    std::promise<void> done;
    boost::asio::post(loop_, [&] {
      live_ = live;
      server_->changed();
      done.set_value();
    });
    done.get_future().get();
  }
  static std::string state(const std::string& value) {
    return R"({"at":null,"site":"s","tubs":[{"id":"tub-1","phase":"x"}],)"
           R"("chambers":[{"id":"c","v":")" +
           value + R"("}],"alerts":[]})";
  }

  SheetLimits limits_;
  BoardClock clock_;
  boost::asio::io_context loop_{1};
  std::unique_ptr<SheetServer> server_;
  std::thread thread_;
  std::string live_ = state("one");
  std::size_t answer_bytes_ = 10;
  std::uint16_t port_ = 0;
};

TEST_F(Limits, ASlowHeaderIsRefusedAndCutOff) {
  start();
  Client slow(port_), silent(port_);
  ASSERT_TRUE(slow.send("GET / HT"));
  EXPECT_TRUE(slow.read().starts_with("HTTP/1.1 408"));
  EXPECT_TRUE(silent.read().starts_with("HTTP/1.1 408"));
  Client dripping(port_);
  bool cut_off = false;  // one byte more does not give more time
  ASSERT_TRUE(dripping.send(kGet));
  cut_off = parts::wait_until([&] { return !dripping.send("A") || counters().too_slow == 3; }, 5s);
  EXPECT_TRUE(cut_off);
  Client body(port_);
  ASSERT_TRUE(body.send("POST /signin HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\nab"));
  EXPECT_TRUE(body.read().starts_with("HTTP/1.1 408"));
  EXPECT_EQ(counters().too_slow, 4u);
}

TEST_F(Limits, AnIdleConnectionEndsAndOneThatAsksAgainStays) {
  start();
  Client twice(port_);
  for (int i = 0; i < 3; ++i) {
    ASSERT_TRUE(twice.send(kGet + "\r\n"));
    EXPECT_TRUE(twice.read("\"}").starts_with("HTTP/1.1 200"));
  }
  EXPECT_EQ(twice.read(), "") << "after a while of nothing it ends without a word";
  EXPECT_EQ(counters().requests, 3u);
  EXPECT_EQ(counters().too_slow, 0u);
}

TEST_F(Limits, AnAnswerThatNobodyTakesIsGivenUp) {
  answer_bytes_ = 8 * 1024 * 1024;
  start();
  Client deaf(port_);
  ASSERT_TRUE(deaf.send(kGet + "\r\n"));
  EXPECT_TRUE(parts::wait_until([&] { return counters().too_slow == 1; }, 5s));
  EXPECT_TRUE(parts::wait_until([&] { return counters().connections == 0; }, 5s));
}

TEST_F(Limits, ConnectionsHaveALimit) {
  limits_.connections_max = 4;
  limits_.header_within = seconds(20);
  start();
  std::vector<std::unique_ptr<Client>> open;
  for (int i = 0; i < 4; ++i) open.push_back(std::make_unique<Client>(port_));
  EXPECT_TRUE(parts::wait_until([&] { return counters().connections == 4; }, 5s));
  Client fifth(port_);
  EXPECT_EQ(fifth.read(), "");
  EXPECT_EQ(counters().too_many, 1u);
  open.pop_back();
  EXPECT_TRUE(parts::wait_until([&] { return counters().connections == 3; }, 5s));
  Client again(port_);
  ASSERT_TRUE(again.send(kGet + "\r\n"));
  EXPECT_TRUE(again.read("\"}").starts_with("HTTP/1.1 200"));
}

TEST_F(Limits, ManyNewConnectionsAtOnceWaitTheirTurn) {
  limits_.opened_a_second_max = 1;  // ten a second, without TLS
  start();
  std::vector<std::unique_ptr<Client>> open;
  for (int i = 0; i < 14; ++i) open.push_back(std::make_unique<Client>(port_));
  for (auto& client : open) client->send(kGet + "Connection: close\r\n\r\n");
  EXPECT_TRUE(parts::wait_until([&] { return counters().requests == 14; }, 10s));
  EXPECT_GT(counters().paced, 0u);
}

TEST_F(Limits, OpenPagesAreToldOnceAndSlowOnesDropped) {
  limits_.live_bytes_max = 64 * 1024;
  start();
  const std::string live = "GET /api/live HTTP/1.1\r\nHost: localhost\r\n\r\n";
  Client first(port_), second(port_), deaf(port_);
  for (Client* c : {&first, &second, &deaf}) ASSERT_TRUE(c->send(live));
  const std::string whole = first.read("\n\n");
  EXPECT_NE(whole.find("event: state\ndata: {\"at\":null,\"site\":\"s\""), std::string::npos);
  EXPECT_NE(second.read("event: state"), "");
  ASSERT_TRUE(parts::wait_until([&] { return counters().live == 3; }, 5s));
  EXPECT_NE(first.read(": \n\n"), "") << "a heartbeat";
  say(state("one"));
  say(state("two"));
  const std::string told = first.read("\"two\"");
  EXPECT_NE(
      told.find("event: change\ndata: {\"at\":null,\"chambers\":[{\"id\":\"c\",\"v\":\"two\"}]}"),
      std::string::npos)
      << told;
  EXPECT_EQ(told.find("\"tubs\""), std::string::npos) << "what is as before is not told";
  EXPECT_NE(second.read("\"two\""), "");
  EXPECT_EQ(counters().live_events, 1u);

  int n = 0;
  const bool dropped = parts::wait_until(
      [&] {
        say(state(std::string(40'000, static_cast<char>('a' + n++ % 26))));
        first.read("]}");
        second.read("]}");
        return counters().live_dropped == 1;
      },
      20s);
  EXPECT_TRUE(dropped);
  EXPECT_EQ(counters().live, 2);
}

TEST_F(Limits, APageThatIsLeftIsNoticed) {
  start();
  {
    Client gone(port_);
    ASSERT_TRUE(gone.send("GET /api/live HTTP/1.1\r\nHost: localhost\r\n\r\n"));
    ASSERT_NE(gone.read("event: state"), "");
  }
  EXPECT_TRUE(parts::wait_until([&] { return counters().live == 0; }, 5s));
  EXPECT_TRUE(parts::wait_until([&] { return counters().connections == 0; }, 5s));
}

}  // namespace
