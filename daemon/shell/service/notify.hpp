// What the service manager is told: ready, reloading, stopping, alive. Without one, nothing
// happens. Threading: any thread. Failure: none; a manager that does not listen is not our trouble.
#pragma once

#include <optional>

#include "base/time.hpp"

namespace tubwarden::service {

void notify_ready();
void notify_reloading();
void notify_stopping();
void notify_watchdog();

/// WatchdogSec of the unit, or nothing where no watchdog is asked for. Read once.
std::optional<Duration> watchdog_interval();

}  // namespace tubwarden::service
