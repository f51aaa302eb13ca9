// A control server on a loop of its own thread, a raw client, and a handler that keeps its replies
// until the test gives them. Threading: tests call from their thread; on_loop() runs there.
// Failure: throws std::runtime_error.
#pragma once

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <future>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "parts/parts.hpp"
#include "shell/control/control_server.hpp"

namespace control_test {

using namespace std::chrono_literals;
using tubwarden::ControlCounters;
using tubwarden::ControlLimits;
using tubwarden::ControlRequest;
using tubwarden::ControlServer;

class Served {
 public:
  explicit Served(ControlLimits limits = {})
      : path((folder_.path() / "control.sock").string()), loop_thread_([this] { loop_.run(); }) {
    on_loop([&] {
      server_ = std::make_unique<ControlServer>(
          loop_, path,
          [this](const ControlRequest& request, ControlServer::Reply reply) {
            take(request, std::move(reply));
          },
          limits);
      return 0;
    });
  }
  ~Served() {
    on_loop([&] {
      replies_.clear();
      server_.reset();
      return 0;
    });
    work_.reset();
    loop_.stop();
    loop_thread_.join();
  }

  tubwarden::Outcome start() {
    return on_loop([&] { return server_->start(); });
  }
  void stop() {
    on_loop([&] {
      server_->stop();
      return 0;
    });
  }
  ControlCounters counters() {
    return on_loop([&] { return server_->counters(); });
  }
  std::vector<ControlRequest> asked() const {
    const std::lock_guard lock(mutex_);
    return asked_;
  }
  /// From now on requests wait for answer_oldest().
  void hold() { held_ = true; }
  void answer_oldest(tubwarden::Result<std::string> answer) {
    on_loop([&] {
      auto reply = std::move(replies_.at(0));
      replies_.erase(replies_.begin());
      reply(std::move(answer));
      return 0;
    });
  }

  template <class Work>
  auto on_loop(Work work) -> decltype(work()) {
    std::packaged_task<decltype(work())()> task(std::move(work));
    auto done = task.get_future();
    boost::asio::post(loop_, [&task] { task(); });
    return done.get();
  }

 private:
  void take(const ControlRequest& request, ControlServer::Reply reply) {
    {
      const std::lock_guard lock(mutex_);
      asked_.push_back(request);
    }
    if (held_) {
      replies_.push_back(std::move(reply));
    } else if (request.what == "big") {
      reply("\"" + std::string(8 * 1024 * 1024, 'x') + "\"");
    } else if (request.what == "no") {
      reply(tubwarden::Error{tubwarden::ErrorCode::refused, "not now: \"hands\" in the tub"});
    } else {
      reply(R"({"heard":)" + request.args_json + "}");
    }
  }

  parts::TempFolder folder_;
  boost::asio::io_context loop_;
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> work_{
      loop_.get_executor()};
  mutable std::mutex mutex_;
  std::vector<ControlRequest> asked_;
  std::vector<ControlServer::Reply> replies_;
  std::atomic<bool> held_ = false;
  std::unique_ptr<ControlServer> server_;

 public:
  const std::string path;

 private:
  std::thread loop_thread_;
};

/// A client that says and hears bytes as they are.
class Raw {
 public:
  explicit Raw(const std::string& path);
  ~Raw();
  Raw(const Raw&) = delete;
  Raw& operator=(const Raw&) = delete;
  void say(const std::string& bytes) const;
  /// No more will be said.
  void half_close() const;
  /// The next line without its end; "(closed)" when the server has hung up, "(nothing)" after 5 s.
  std::string line();

 private:
  int fd_;
  std::string heard_;
};

}  // namespace control_test
