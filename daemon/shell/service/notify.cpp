#include "shell/service/notify.hpp"

#include <systemd/sd-daemon.h>
#include <time.h>

namespace tubwarden::service {

void notify_ready() { sd_notify(0, "READY=1"); }
void notify_stopping() { sd_notify(0, "STOPPING=1"); }
void notify_watchdog() { sd_notify(0, "WATCHDOG=1"); }

void notify_reloading() {
  // Type=notify-reload (systemd 253) wants the moment with it; older ones ignore the line.
  timespec at{};
  ::clock_gettime(CLOCK_MONOTONIC, &at);
  const long long microseconds = at.tv_sec * 1'000'000LL + at.tv_nsec / 1'000;
  sd_notifyf(0, "RELOADING=1\nMONOTONIC_USEC=%lld", microseconds);
}

void notify_status(const std::string& line) {
  sd_notifyf(0, "STATUS=%s", line.substr(0, line.find('\n')).c_str());
}

std::optional<Duration> watchdog_interval() {
  static const std::optional<Duration> interval = []() -> std::optional<Duration> {
    std::uint64_t microseconds = 0;
    if (sd_watchdog_enabled(0, &microseconds) <= 0) return std::nullopt;
    return std::chrono::microseconds(microseconds);
  }();
  return interval;
}

}  // namespace tubwarden::service
