// What bench_safety measures of hosts on their own: each prints its lines.
// Threading: the program's one thread. Failure: throws std::runtime_error.
#pragma once

#include <filesystem>

namespace bench {

/// The error of timed runs of 50 to 350 ms, in the file of `simulated` and as a subscriber hears
/// `mqtt_relay`; beside a bare sleep of the same lengths.
void pulse_errors(const std::filesystem::path& folder, int pulses);

/// Private_Dirty of a host of each plugin with one output open, beside a process that has loaded
/// the same libraries and does nothing.
void private_dirty(const std::filesystem::path& folder);

}  // namespace bench
