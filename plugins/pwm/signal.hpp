// A PWM channel's state, and the writes that lead from one to another in an order that the kernel
// takes. Threading: pure functions. Failure: none; the writes may fail.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace tubwarden::pwm {

/// As the four files of a channel say it.
struct Signal {
  bool enabled = false;
  std::uint64_t period_ns = 0;
  std::uint64_t duty_ns = 0;  ///< of the active part; never above the period
  bool inversed = false;      ///< the active part is low
  bool operator==(const Signal&) const = default;
};

/// The running signal of a level, 0 to 1000 permille, at a frequency in Hz. It is enabled at 0,
/// too: what a disabled channel's pin does is the chip's affair, at duty 0 it is inactive.
Signal signal_at(std::uint32_t permille, double hz, bool inversed);

struct Write {
  std::string file;  ///< "period"
  std::string text;
  bool operator==(const Write&) const = default;
};

/// The kernel refuses a duty above the period, a polarity before there is a period, and another
/// polarity while the channel is enabled; and a channel is enabled last, with its duty set. `to` is
/// enabled. (Documentation/driver-api/pwm.rst, Documentation/ABI/testing/sysfs-class-pwm.)
std::vector<Write> writes(const Signal& from, const Signal& to);

}  // namespace tubwarden::pwm
