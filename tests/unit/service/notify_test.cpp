#include "shell/service/notify.hpp"

#include <gmock/gmock.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstdlib>

#include "parts/parts.hpp"

namespace {

using namespace tubwarden;
using ::testing::MatchesRegex;

/// The manager's end: a datagram socket that NOTIFY_SOCKET names.
class Manager {
 public:
  Manager() : fd_(::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0)) {
    const std::string path = (folder_.path() / "notify").string();
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    path.copy(address.sun_path, path.size());
    EXPECT_EQ(::bind(fd_, reinterpret_cast<const sockaddr*>(&address), sizeof(address)), 0);
    const timeval limit{5, 0};
    ::setsockopt(fd_, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof(limit));
    ::setenv("NOTIFY_SOCKET", path.c_str(), 1);
  }
  ~Manager() {
    ::unsetenv("NOTIFY_SOCKET");
    ::close(fd_);
  }
  std::string heard() const {
    char bytes[4096];
    const ssize_t n = ::recv(fd_, bytes, sizeof(bytes), 0);
    return n < 0 ? "(nothing)" : std::string(bytes, static_cast<std::size_t>(n));
  }

 private:
  parts::TempFolder folder_;
  int fd_;
};

TEST(Notify, TellsTheManagerEachWord) {
  const Manager manager;
  service::notify_ready();
  EXPECT_EQ(manager.heard(), "READY=1");
  service::notify_watchdog();
  EXPECT_EQ(manager.heard(), "WATCHDOG=1");
  service::notify_status("2 tubs, 1 alert: 100 % wet\nWATCHDOG=trigger");
  EXPECT_EQ(manager.heard(), "STATUS=2 tubs, 1 alert: 100 % wet");
  service::notify_reloading();
  EXPECT_THAT(manager.heard(), MatchesRegex("RELOADING=1\nMONOTONIC_USEC=[0-9]+"));
  service::notify_stopping();
  EXPECT_EQ(manager.heard(), "STOPPING=1");
}

TEST(Notify, WithoutAManagerNothingHappens) {
  ::unsetenv("NOTIFY_SOCKET");
  service::notify_ready();
  service::notify_status("well");
}

/// The only test that asks for it: the answer is read once a process.
TEST(Notify, TheWatchdogsIntervalIsTheUnits) {
  ::setenv("WATCHDOG_USEC", "30000000", 1);
  ::setenv("WATCHDOG_PID", std::to_string(::getpid()).c_str(), 1);
  EXPECT_EQ(service::watchdog_interval(), Duration(seconds(30)));
  ::unsetenv("WATCHDOG_USEC");
  EXPECT_EQ(service::watchdog_interval(), Duration(seconds(30))) << "read once";
}

}  // namespace
