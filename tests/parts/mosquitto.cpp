#include <signal.h>
#include <unistd.h>

#include <stdexcept>

#include "parts/parts.hpp"

namespace parts {

struct Mosquitto::Impl {
  std::string extra;
  std::uint16_t port = 0;
  TempFolder folder;
  std::unique_ptr<Process> process;
  std::string earlier_log;

  std::string configuration() const {
    std::string text = "persistence false\nlog_dest stderr\nlog_type all\n";
    text += "set_tcp_nodelay true\nmax_queued_messages 0\n";
    if (::geteuid() == 0) text += "user root\n";  // else it cannot read a test's folder
    if (extra.find("allow_anonymous") == std::string::npos) text += "allow_anonymous true\n";
    text += "listener " + std::to_string(port) + " 127.0.0.1\n";
    return text + extra + "\n";  // after the listener: TLS options in it are this listener's
  }

  /// Whether it runs; false when it ended, e.g. because the port was taken meanwhile.
  bool start() {
    folder.write("mosquitto.conf", configuration());
    process = std::make_unique<Process>(
        std::vector<std::string>{"mosquitto", "-c", (folder.path() / "mosquitto.conf").string()});
    bool running = false;
    wait_until(
        [&] {
          // Said once every listener is bound; a port that answers could be somebody else's.
          running = process->err().find(" running") != std::string::npos;
          return running || process->wait(0ms).has_value();
        },
        10s);
    return running;
  }
};

Mosquitto::Mosquitto(std::string extra) : impl_(std::make_unique<Impl>()) {
  impl_->extra = std::move(extra);
  for (int attempt = 0; attempt < 5; ++attempt) {
    impl_->port = free_port();
    if (impl_->start()) return;
    if (log().find("in use") == std::string::npos) break;  // another port would not help
  }
  throw std::runtime_error("mosquitto does not run: " + log());
}

Mosquitto::~Mosquitto() = default;

std::uint16_t Mosquitto::port() const { return impl_->port; }
std::string Mosquitto::url() const { return "mqtt://127.0.0.1:" + std::to_string(impl_->port); }

void Mosquitto::kill() {
  impl_->process->signal(SIGKILL);
  if (!impl_->process->wait(5s)) throw std::runtime_error("mosquitto survives SIGKILL");
}

void Mosquitto::restart() {
  if (!impl_->process->wait(0ms)) kill();
  impl_->earlier_log += impl_->process->err();
  for (int attempt = 0; attempt < 5; ++attempt) {
    if (impl_->start()) return;
  }
  throw std::runtime_error("mosquitto does not come back: " + log());
}

std::string Mosquitto::log() const {
  return impl_->earlier_log + (impl_->process ? impl_->process->err() : "");
}

void publish(const Mosquitto& broker, const std::string& topic, const std::string& payload,
             bool retain) {
  std::vector<std::string> argv = {"mosquitto_pub",
                                   "-h",
                                   "127.0.0.1",
                                   "-p",
                                   std::to_string(broker.port()),
                                   "-q",
                                   "1",
                                   "-t",
                                   topic};
  if (payload.empty()) {
    argv.push_back("-n");
  } else {
    argv.insert(argv.end(), {"-m", payload});
  }
  if (retain) argv.push_back("-r");
  const Ran ran = run(argv);
  if (ran.status != 0) throw std::runtime_error("mosquitto_pub: " + ran.err);
}

}  // namespace parts
