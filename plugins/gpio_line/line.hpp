// A line of the kernel's, held as an output: the only file pair that speaks to libgpiod (its 1.x
// interface; 2.x is another). Threading: one thread at a time. Failure: an error with the kernel's
// word; the caller may try again.
#pragma once

#include <memory>
#include <string>

#include "gpio_line/wiring.hpp"

namespace tubwarden::gpio {

/// All chips in /dev, each opened and closed again.
Board look_at_board();

class HeldLine {
 public:
  /// Requests the line as an output that stands at `run` from its first moment: the kernel sets
  /// level and direction in one call. refused: somebody else has it, who is named.
  static Result<std::unique_ptr<HeldLine>> take(const Place& place, const Manner& manner,
                                                const std::string& consumer, bool run);
  /// Gives the line back. What the pin does then is the chip driver's affair: mostly it stays.
  ~HeldLine();
  HeldLine(const HeldLine&) = delete;
  HeldLine& operator=(const HeldLine&) = delete;

  /// 0, or the kernel's errno.
  int set(bool run);

 private:
  struct Impl;
  explicit HeldLine(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace tubwarden::gpio
