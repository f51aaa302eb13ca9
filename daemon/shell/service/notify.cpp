#include "shell/service/notify.hpp"

#include <systemd/sd-daemon.h>

namespace tubwarden::service {

void notify_ready() { sd_notify(0, "READY=1"); }
void notify_reloading() { sd_notify(0, "RELOADING=1"); }
void notify_stopping() { sd_notify(0, "STOPPING=1"); }
void notify_watchdog() { sd_notify(0, "WATCHDOG=1"); }

std::optional<Duration> watchdog_interval() {
  static const std::optional<Duration> interval = []() -> std::optional<Duration> {
    std::uint64_t microseconds = 0;
    if (sd_watchdog_enabled(0, &microseconds) <= 0) return std::nullopt;
    return std::chrono::microseconds(microseconds);
  }();
  return interval;
}

}  // namespace tubwarden::service
