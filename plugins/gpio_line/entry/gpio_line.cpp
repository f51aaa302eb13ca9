// The driver of a GPIO line of this board: on and off, through the kernel's character device.

#include <cerrno>
#include <cstring>
#include <memory>
#include <string>
#include <utility>

#include "gpio_line/line.hpp"
#include "sdk/entry.hpp"
#include "sdk/plugin.h"

namespace {

using namespace tubwarden::gpio;
using tubwarden::fail;

/// The kernel keeps 31 letters of it.
constexpr std::size_t kConsumerMax = 31;

constexpr tw_option kOptions[] = {
    {"line", "text", "", "", "The line's name, as gpioinfo tells it; it must be there once."},
    {"chip", "text", "", "",
     "Instead of line: the chip's label, name or path (pinctrl-bcm2711, gpiochip0)."},
    {"offset", "integer", "0..65535", "", "With chip: the line's number on it, from 0."},
    {"active_low", "boolean", "", "false", "The output runs while the pin is low."},
    {"bias", "text", "as_is|none|pull_up|pull_down", "as_is",
     "The pin's own resistor, where the chip has one."},
    {"drive", "text", "push_pull|open_drain|open_source", "push_pull",
     "How the pin is driven; open_drain never drives it high, open_source never low."},
};

struct Output {
  const tw_host* host;
  std::string consumer;
  LineWiring wiring;
  bool safe;
  std::string told;
  std::unique_ptr<HeldLine> line;
};

/// Finds the line and takes it, standing at `run` from its first moment.
std::int32_t take(Output& output, bool run) {
  const auto place = choose(output.wiring.wanted, look_at_board());
  if (!place) {
    const bool wrong = place.error().code == tubwarden::ErrorCode::refused;
    return fail(output.host, wrong ? TW_BAD_OPTION : TW_FAILED, place.error().text);
  }
  output.told = place->told;
  auto line = HeldLine::take(*place, output.wiring.manner, output.consumer, run);
  if (!line) return fail(output.host, TW_FAILED, line.error().text);
  output.line = std::move(line.value());
  return TW_OK;
}

std::int32_t open_output(const tw_host* host, std::uint32_t, const tw_output* spec, void** handle) {
  const auto wiring = read_wiring([&](const char* name) -> std::string {
    const char* value = host->option(host->context, name, 0);
    return value != nullptr ? value : "";
  });
  if (!wiring) return fail(host, TW_BAD_OPTION, wiring.error().text);
  std::string consumer = std::string("tubwarden ") + spec->id;
  if (consumer.size() > kConsumerMax) consumer.resize(kConsumerMax);
  auto output = std::make_unique<Output>(
      Output{host, std::move(consumer), *wiring, spec->safe_permille != 0, "", nullptr});
  // An output has some level from its first moment: the safe one, so that nothing is switched that
  // make_safe would not switch right behind.
  const std::int32_t taken = take(*output, output->safe);
  if (taken == TW_OK) *handle = output.release();
  return taken;
}

std::int32_t switch_to(Output& output, bool run) {
  if (!output.line) return take(output, run);
  const int error = output.line->set(run);
  if (error == 0) return TW_OK;
  // A chip on a cable was unplugged: when it is back, it is another one to the kernel.
  if (error == ENODEV) output.line.reset();
  return fail(output.host, TW_FAILED, output.told + ": " + std::strerror(error));
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  return switch_to(*static_cast<Output*>(handle), level != 0);
}

std::int32_t make_safe(void* handle) {
  auto& output = *static_cast<Output*>(handle);
  return switch_to(output, output.safe);
}

void close_output(void* handle) { delete static_cast<Output*>(handle); }

constexpr tw_plugin kPlugin =
    tubwarden::actuator("gpio_line", 0, kOptions, open_output, apply, make_safe, close_output);

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
