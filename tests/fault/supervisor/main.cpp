// HostDrivers in a process of its own, driven by lines of a FIFO, for tests that kill or stop it.
//   output CHAMBER ACTUATOR DRIVER SAFE LEASE_MS OWN WIRING   (added to the set)
//   want | command CHAMBER ACTUATOR LEVEL RUN_MS | hosts | stop
// It prints "report ID HEALTH", "host ID PID" and "stopped", a line each.

#include <fcntl.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/streambuf.hpp>
#include <cstdio>
#include <istream>
#include <sstream>
#include <string>

#include "shell/hosts/host_drivers.hpp"

namespace {

using namespace tubwarden;

class Supervisor {
 public:
  Supervisor(char** argv, boost::asio::io_context& loop)
      : loop_(loop),
        orders_(loop, ::open(argv[1], O_RDWR | O_CLOEXEC)),
        drivers_(loop, {argv[2], argv[3], argv[4],
                        [](HostWord, std::string_view text) {
                          std::fprintf(stderr, "%.*s\n", static_cast<int>(text.size()),
                                       text.data());
                        },
                        argv[5] != nullptr ? argv[5] : ""}) {
    drivers_.start([](const OutputReport& r) {
      print("report " + r.id.chamber + "/" + r.id.actuator + " " + std::string(name_of(r.health)));
    });
    read();
  }

 private:
  static void print(const std::string& line) {
    std::puts(line.c_str());
    std::fflush(stdout);
  }

  void read() {
    boost::asio::async_read_until(orders_, buffer_, '\n',
                                  [this](const boost::system::error_code& error, std::size_t) {
                                    if (error) return;
                                    std::istream in(&buffer_);
                                    std::string line;
                                    std::getline(in, line);
                                    obey(line);
                                    read();
                                  });
  }

  void obey(const std::string& line) {
    std::istringstream words(line);
    std::string what;
    words >> what;
    if (what == "output") {
      OutputPlan plan;
      long lease_ms = 0;
      words >> plan.id.chamber >> plan.id.actuator >> plan.driver >> plan.safe >> lease_ms >>
          plan.own_process >> std::ws;
      plan.lease = milliseconds(lease_ms);
      std::getline(words, plan.wiring_json);
      plans_.push_back(plan);
    } else if (what == "want") {
      drivers_.want(plans_);
    } else if (what == "command") {
      OutputId id;
      Level level = 0;
      long run_ms = 0;
      words >> id.chamber >> id.actuator >> level >> run_ms;
      drivers_.command(id, level, milliseconds(run_ms));
    } else if (what == "hosts") {
      for (const HostView& host : drivers_.hosts()) {
        print("host " + host.id.chamber + "/" + host.id.actuator + " " + std::to_string(host.pid));
      }
    } else if (what == "stop") {
      drivers_.stop([this] {
        print("stopped");
        loop_.stop();
      });
    }
  }

  boost::asio::io_context& loop_;
  boost::asio::posix::stream_descriptor orders_;
  boost::asio::streambuf buffer_;
  HostDrivers drivers_;
  std::vector<OutputPlan> plans_;
};

}  // namespace

int main(int argc, char** argv) {  // FIFO HOST PLUGINS SITE [LIST]
  if (argc != 5 && argc != 6) return 2;
  boost::asio::io_context loop;
  Supervisor supervisor(argv, loop);
  loop.run();
  return 0;
}
