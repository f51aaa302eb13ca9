// What a wiring says of one PWM channel, checked: no hardware is looked at. Threading: pure
// functions. Failure: an error that names the option, its value and what is allowed.
#pragma once

#include <functional>
#include <string>

#include "base/result.hpp"

namespace tubwarden::pwm {

struct ChannelWiring {
  std::string root;  ///< "/sys/class/pwm"
  std::string chip;  ///< "pwmchip0", or the name of its device: "fe20c000.pwm"
  unsigned channel = 0;
  double frequency_hz = 0.0;
  bool inverted = false;
};

/// An option as text by its name; empty when it is left out.
using OptionText = std::function<std::string(const char* name)>;

Result<ChannelWiring> read_wiring(const OptionText& option);

}  // namespace tubwarden::pwm
