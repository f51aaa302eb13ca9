// What a wiring says of one line, checked: no hardware is looked at. Threading: pure functions.
// Failure: an error that names the option, its value and what is allowed.
#pragma once

#include <functional>

#include "gpio_line/choose.hpp"

namespace tubwarden::gpio {

enum class Bias { as_is, none, pull_up, pull_down };
enum class Drive { push_pull, open_drain, open_source };

struct Manner {
  bool active_low = false;  ///< the output runs while the pin is low
  Bias bias = Bias::as_is;
  Drive drive = Drive::push_pull;
};

struct LineWiring {
  Wanted wanted;
  Manner manner;
};

/// An option as text by its name; empty when it is left out.
using OptionText = std::function<std::string(const char* name)>;

Result<LineWiring> read_wiring(const OptionText& option);

}  // namespace tubwarden::gpio
