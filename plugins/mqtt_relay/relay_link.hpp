// One output's own connection to the broker: its will carries the output's safe payload. Also a
// sensor's (iio_sensor), whose will says that it is gone.
// Threading: open, publish and close on the host's thread; a worker of its own connects; Paho's
// threads only copy and signal. Failure: publish says whether it went out; nothing is kept for
// later.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <thread>

namespace tubwarden::relay {

struct LinkPlan {
  std::string server;  ///< "tcp://host:port" or "ssl://host:port"
  std::string
      client_id;  ///< the same for each life of this output: a new one takes the old one over
  std::optional<std::string> user, password;
  bool encrypted = false;
  std::optional<std::string> ca_file, cert_file, key_file;
  std::string topic;
  std::string safe_payload;
  std::optional<std::string> confirm_topic;
  std::optional<std::string> now_topic;  ///< where publish_now goes; empty: to `topic`
  int keep_alive_s = 1;
};

class Link {
 public:
  struct Handlers {
    std::function<void(bool reachable, const std::string& why)> reach;  ///< on the worker
    std::function<void(const std::string& payload)> confirmed;          ///< on Paho's thread
    std::function<void(const std::string& warning)> warn;               ///< on the worker
  };
  Link(LinkPlan plan, Handlers handlers);
  /// Leaves with a clean goodbye when the last safe payload was acknowledged; else so that the
  /// broker sends the will.
  ~Link();
  Link(const Link&) = delete;
  Link& operator=(const Link&) = delete;

  /// QoS 0, not retained; gone after `expiry_s` where the broker can expire (MQTT 5), 0: never.
  bool publish_now(const std::string& payload, std::uint32_t expiry_s);
  /// QoS 1. Waits at most `limit_ms` for the acknowledgement, 0: does not wait.
  bool publish_surely(const std::string& payload, bool retain, int limit_ms);

  // For Paho's callbacks only.
  struct Session;
  void on_connected(const Session& session);
  void on_failed(const Session& session, std::string why, bool other_version);
  void on_lost(const Session& session);
  void on_arrived(const Session& session, const std::string& payload);
  void on_acknowledged(const Session& session, int token);
  void on_subscribe_failed(const Session& session);

 private:
  enum class State { idle, connecting, connected, failed };

  void work();
  bool connect(int version);
  void subscribe();
  void drop_client(bool goodbye);
  void* client();

  const LinkPlan plan_;
  const Handlers handlers_;

  std::mutex client_lock_;  ///< never taken in a callback
  void* client_ = nullptr;
  int version_ = 0;

  std::mutex state_lock_;
  std::condition_variable changed_;
  State state_ = State::idle;
  bool stopping_ = false;
  bool other_version_ = false;
  bool subscribe_failed_ = false;
  bool safe_acknowledged_ = false;
  std::string why_;
  std::set<int> acknowledged_;
  std::deque<std::unique_ptr<Session>> sessions_;

  std::thread worker_;
};

}  // namespace tubwarden::relay
