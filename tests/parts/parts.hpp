// Real parts for tests: processes, a private mosquitto, a listener on its topics, a folder that
// goes away. Threading: one test thread; Listener has Paho's behind it and locks. Failure: throws
// std::runtime_error, so that a test that cannot start its parts fails with the reason.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace parts {

using Steady = std::chrono::steady_clock;
using namespace std::chrono_literals;

/// Waits for a sign: polls `sign` each 5 ms until it holds or `limit` is over. Never sleep and
/// hope.
bool wait_until(const std::function<bool()>& sign, std::chrono::milliseconds limit);

/// A folder below /tmp that is removed with the object.
class TempFolder {
 public:
  TempFolder();
  ~TempFolder();
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  /// Writes a file below the folder (making its folders), in place.
  void write(const std::string& name, const std::string& text) const;
  /// Writes as editors do: a temporary name beside it, then a rename over it.
  void write_by_rename(const std::string& name, const std::string& text) const;

 private:
  std::filesystem::path path_;
};

std::string read_file(const std::filesystem::path& path);

/// A child process with stdout and stderr kept in files. Killed (SIGKILL) and reaped with the
/// object.
class Process {
 public:
  struct Options {
    std::vector<std::string> environment;  ///< "NAME=value", added to ours
    bool own_group = false;
  };
  explicit Process(std::vector<std::string> argv);
  Process(std::vector<std::string> argv, Options options);
  ~Process();
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;

  int pid() const;
  void signal(int number) const;
  /// The exit status (128 + signal when killed), or nothing while it runs after `limit`.
  std::optional<int> wait(std::chrono::milliseconds limit);
  std::string out() const;
  std::string err() const;
  /// Child processes of this one, from /proc, whose command line contains `word`.
  std::vector<int> children(const std::string& word) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Runs to the end and returns what it printed; throws when it takes longer than `limit`.
struct Ran {
  int status = 0;
  std::string out, err;
};
Ran run(std::vector<std::string> argv, std::chrono::milliseconds limit = 20s);

/// A free loopback TCP port, by binding port 0 and letting go.
std::uint16_t free_port();

/// A private mosquitto on a free loopback port, no persistence, set_tcp_nodelay on.
class Mosquitto {
 public:
  /// `extra` lines are added to its configuration (TLS listeners, password files, ...).
  explicit Mosquitto(std::string extra = "");
  ~Mosquitto();
  std::uint16_t port() const;
  std::string url() const;  ///< mqtt://127.0.0.1:PORT
  void kill();              ///< SIGKILL
  void restart();           ///< on the same port
  std::string log() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

struct Heard {
  std::string topic, payload;
  bool retained = false;
  Steady::time_point at;
};

/// A subscriber of its own (Paho C): everything heard, in order, with the time it was heard.
/// Prefer one with many topics: Paho takes 2 s to connect a second client in the same process.
class Listener {
 public:
  Listener(const std::string& url, std::vector<std::string> topics);
  ~Listener();
  std::vector<Heard> heard() const;
  std::vector<Heard> heard(const std::string& topic) const;
  /// The first message on `topic` at or after index `from` of heard(topic) that satisfies `test`.
  std::optional<Heard> wait_for(const std::string& topic,
                                const std::function<bool(const Heard&)>& test,
                                std::chrono::milliseconds limit, std::size_t from = 0);
  void clear();

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Publishes by mosquitto_pub (QoS 1), and waits for it to end.
void publish(const Mosquitto& broker, const std::string& topic, const std::string& payload,
             bool retain = false);

}  // namespace parts
