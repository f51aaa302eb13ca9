// The driver of a PWM channel of this board: levels between, through the kernel's sysfs.

#include <chrono>
#include <memory>
#include <string>
#include <utility>

#include "pwm/channel.hpp"
#include "sdk/entry.hpp"
#include "sdk/plugin.h"

namespace {

using namespace tubwarden::pwm;
using tubwarden::fail;

/// Within the least patience a host has with a call (0.8 s, when a service stops).
constexpr std::chrono::milliseconds kPatience{500};

constexpr tw_option kOptions[] = {
    {"chip", "text", "", nullptr,
     "The chip's name (pwmchip0), or its device's, which stays the same (fe20c000.pwm)."},
    {"channel", "integer", "0..1023", nullptr, "The channel's number on the chip, from 0."},
    {"frequency", "number", "1..1000000", nullptr,
     "In Hz; a computer fan with four wires wants 25000."},
    {"inverted", "boolean", "", "false", "The output runs while the pin is low."},
    {"root", "text", "", "/sys/class/pwm", "Where the kernel shows its chips."},
};

struct Output {
  const tw_host* host;
  ChannelWiring wiring;
  std::uint32_t safe;
  std::unique_ptr<Channel> channel;
};

std::int32_t take(Output& output) {
  auto channel = Channel::take(output.wiring, kPatience);
  if (!channel) {
    const bool wrong = channel.error().code == tubwarden::ErrorCode::bad_input;
    return fail(output.host, wrong ? TW_BAD_OPTION : TW_FAILED, channel.error().text);
  }
  output.channel = std::move(channel.value());
  return TW_OK;
}

std::int32_t open_output(const tw_host* host, std::uint32_t, const tw_output* spec, void** handle) {
  const auto wiring = read_wiring([&](const char* name) -> std::string {
    const char* value = host->option(host->context, name, 0);
    return value != nullptr ? value : "";
  });
  if (!wiring) return fail(host, TW_BAD_OPTION, wiring.error().text);
  auto output = std::make_unique<Output>(Output{host, *wiring, spec->safe_permille, nullptr});
  const std::int32_t taken = take(*output);
  if (taken == TW_OK) *handle = output.release();
  return taken;
}

std::int32_t set_level(Output& output, std::uint32_t level) {
  // A chip on a cable that was unplugged, or a channel that somebody unexported.
  if (output.channel && !output.channel->is_there()) output.channel.reset();
  if (!output.channel) {
    const std::int32_t taken = take(output);
    if (taken != TW_OK) return taken;
  }
  const auto why =
      output.channel->set(signal_at(level, output.wiring.frequency_hz, output.wiring.inverted));
  return why ? fail(output.host, TW_FAILED, *why) : TW_OK;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  return set_level(*static_cast<Output*>(handle), level);
}

std::int32_t make_safe(void* handle) {
  auto& output = *static_cast<Output*>(handle);
  return set_level(output, output.safe);
}

void close_output(void* handle) { delete static_cast<Output*>(handle); }

constexpr tw_plugin kPlugin =
    tubwarden::actuator("pwm", TW_CAN_LEVEL, kOptions, open_output, apply, make_safe, close_output);

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
