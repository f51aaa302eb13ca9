// A channel of a PWM chip through its files in sysfs: found, exported, held, set. Threading: one
// thread at a time. Failure: an error that names the file and the kernel's word; the caller may try
// again.
#pragma once

#include <chrono>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "base/result.hpp"
#include "pwm/signal.hpp"
#include "pwm/wiring.hpp"

namespace tubwarden::pwm {

class Channel {
 public:
  /// Waits at most `patience` for the files of a channel that it exports: they appear at once, but
  /// their rights may be set by udev a little later. Sets nothing. bad_input: the wiring is wrong.
  static Result<std::unique_ptr<Channel>> take(const ChannelWiring& wiring,
                                               std::chrono::milliseconds patience);
  /// Lets go, and leaves the channel exported: what a pin does without that is the chip's affair.
  ~Channel();
  Channel(const Channel&) = delete;
  Channel& operator=(const Channel&) = delete;

  /// The text of what failed; nothing when the signal stands.
  std::optional<std::string> set(const Signal& to);
  /// False: the channel's files are gone; it has to be taken anew.
  bool is_there() const;

 private:
  Channel(std::filesystem::path folder, int lock) : folder_(std::move(folder)), lock_(lock) {}
  Result<Signal> read() const;

  std::filesystem::path folder_;
  int lock_;
};

}  // namespace tubwarden::pwm
