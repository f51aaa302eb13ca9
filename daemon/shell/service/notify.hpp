// What the service manager is told: ready, reloading, stopping, alive, and one line on how it goes.
// Without a manager, nothing happens. Threading: any thread. Failure: none; a manager that does not
// listen is not our trouble.
#pragma once

#include <optional>
#include <string>

#include "base/time.hpp"

namespace tubwarden::service {

void notify_ready();
/// Followed by notify_ready() once the configuration has been read.
void notify_reloading();
void notify_stopping();
void notify_watchdog();
/// One line for `systemctl status`; what lies behind a line break is not told.
void notify_status(const std::string& line);

/// WatchdogSec of the unit, or nothing where no watchdog is asked for. Read once.
std::optional<Duration> watchdog_interval();

}  // namespace tubwarden::service
