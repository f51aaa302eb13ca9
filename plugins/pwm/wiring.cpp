#include "pwm/wiring.hpp"

#include <charconv>

namespace tubwarden::pwm {

namespace {

Error not_allowed(const char* name, const std::string& value, const std::string& allowed) {
  return {ErrorCode::bad_input,
          "wiring: " + std::string(name) + " is '" + value + "'; allowed: " + allowed};
}

template <class Number>
bool read_number(const std::string& text, Number low, Number high, Number& value) {
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  return error == std::errc() && rest == end && value >= low && value <= high;
}

}  // namespace

Result<ChannelWiring> read_wiring(const OptionText& option) {
  ChannelWiring wiring;
  wiring.root = option("root");
  if (wiring.root.empty() || wiring.root[0] != '/') {
    return not_allowed("root", wiring.root, "a full path, as /sys/class/pwm");
  }
  wiring.chip = option("chip");
  if (wiring.chip.empty() || wiring.chip.find('/') != std::string::npos || wiring.chip[0] == '.') {
    return not_allowed("chip", wiring.chip, "a chip's name (pwmchip0), or its device's");
  }
  if (!read_number(option("channel"), 0u, 1023u, wiring.channel)) {
    return not_allowed("channel", option("channel"), "0 to 1023");
  }
  if (!read_number(option("frequency"), 1.0, 1e6, wiring.frequency_hz)) {
    return not_allowed("frequency", option("frequency"), "1 to 1000000, in Hz");
  }
  const std::string inverted = option("inverted");
  if (inverted != "true" && inverted != "false") {
    return not_allowed("inverted", inverted, "true, false");
  }
  wiring.inverted = inverted == "true";
  return wiring;
}

}  // namespace tubwarden::pwm
