// The driver of relays behind Modbus: one coil an output, over a serial line or TCP. A coil keeps
// its state when nobody speaks to it: nothing but the device's own timer ends a run when the bus
// or this board dies.

#include <charconv>
#include <chrono>
#include <cstring>
#include <memory>
#include <optional>
#include <string>

#include "modbus_coil/bus.hpp"
#include "sdk/entry.hpp"
#include "sdk/plugin.h"

namespace {

using namespace tubwarden::modbus;
using std::chrono::milliseconds;

/// Within the least patience a host has with a call (0.8 s, when a service stops).
constexpr milliseconds kCallMax{700};

constexpr tw_option kOptions[] = {
    {"coil", "integer", "0..65535", nullptr,
     "The coil's number on the wire, from 0; a manual that counts from 1 says one more."},
    {"unit", "integer", "1..255", "1", "The device's address: 1..247, or 255 over TCP."},
    {"host", "text", "", "", "A device or gateway that speaks Modbus TCP: its name or address."},
    {"port", "integer", "1..65535", "502", "Its port."},
    {"device", "device", "", "", "A serial line (RTU), instead of host: /dev/serial/by-id/..."},
    {"baud", "integer", "1200..115200", "9600", "The serial line's speed."},
    {"parity", "text", "none|even|odd", "none", "The serial line's parity."},
    {"stop_bits", "integer", "1..2", "1", "The serial line's stop bits."},
    {"inverted", "boolean", "", "false", "The output runs while the coil is off."},
    {"read_back", "boolean", "", "false",
     "The coil is read after each change and each second, as the output's own word."},
    {"timeout", "duration", "50ms..300ms", "200ms", "How long an answer is waited for."},
};

struct Output {
  const tw_host* host = nullptr;
  std::uint32_t number = 0;
  std::uint32_t safe = 0;
  bool inverted = false;
  Line line;
  std::shared_ptr<Bus> bus;

  bool coil_at(std::uint32_t level) const { return (level != 0) != inverted; }
};

/// Reads options by name; the first that is wrong is kept in `wrong`.
class Options {
 public:
  explicit Options(const tw_host* host) : host_(host) {}

  std::string text(const char* name) const {
    const char* value = host_->option(host_->context, name, 0);
    return value != nullptr ? value : "";
  }
  int number(const char* name, int low, int high) {
    const std::string value = text(name);
    int result = 0;
    const char* const end = value.data() + value.size();
    const auto [rest, error] = std::from_chars(value.data(), end, result);
    if (error == std::errc() && rest == end && result >= low && result <= high) return result;
    refuse(std::string(name) + " is '" + value + "'; allowed: " + std::to_string(low) + " to " +
           std::to_string(high));
    return low;
  }
  bool yes(const char* name) {
    const std::string value = text(name);
    if (value != "true" && value != "false") {
      refuse(std::string(name) + " is '" + value + "'; allowed: true, false");
    }
    return value == "true";
  }
  void refuse(const std::string& why) {
    if (!wrong) wrong = "wiring: " + why;
  }

  std::optional<std::string> wrong;

 private:
  const tw_host* host_;
};

Address address_of(Options& options) {
  Address address;
  address.host = options.text("host");
  address.device = options.text("device");
  if (address.host.empty() == address.device.empty()) {
    options.refuse("give host (Modbus TCP) or device (a serial line), one of the two");
  }
  address.port = options.number("port", 1, 65535);
  address.baud = options.number("baud", 1200, 115200);
  address.stop_bits = options.number("stop_bits", 1, 2);
  address.timeout = milliseconds(options.number("timeout", 50, 300));
  const std::string parity = options.text("parity");
  if (parity != "none" && parity != "even" && parity != "odd") {
    options.refuse("parity is '" + parity + "'; allowed: none, even, odd");
  } else {
    address.parity = parity == "none" ? 'N' : parity == "even" ? 'E' : 'O';
  }
  return address;
}

std::int32_t fail(const tw_host* host, std::int32_t code, const std::string& why) {
  host->say(host->context, code == TW_UNAVAILABLE ? TW_DEBUG : TW_ERROR, why.c_str());
  return code;
}

std::int32_t open_output(const tw_host* host, std::uint32_t number, const tw_output* spec,
                         void** handle) {
  Options options(host);
  auto output = std::make_unique<Output>();
  output->host = host;
  output->number = number;
  output->safe = spec->safe_permille;
  const Address address = address_of(options);
  Line& line = output->line;
  line.coil = options.number("coil", 0, 65535);
  line.unit = options.number("unit", 1, 255);
  line.read_back = options.yes("read_back");
  output->inverted = options.yes("inverted");
  if (line.unit > 247 && (line.unit != 255 || address.host.empty())) {
    options.refuse("unit is " + std::to_string(line.unit) + "; allowed: 1 to 247, or 255 over TCP");
  }
  if (options.wrong) return fail(host, TW_BAD_OPTION, *options.wrong);
  output->bus = Bus::to(address);
  if (!output->bus) {
    return fail(host, TW_BAD_OPTION,
                "wiring: another output uses " + address.place() + " with other settings");
  }
  line.reach = [host, number](bool yes, const std::string& why) {
    host->reachable(host->context, number, yes ? 1 : 0, why.c_str());
  };
  line.confirm = [self = output.get()](bool on) {
    const std::uint32_t level = on != self->inverted ? 1000 : 0;
    self->host->confirm(self->host->context, self->number, level);
  };
  if (!output->bus->join(line)) {
    return fail(host, TW_BAD_OPTION,
                "wiring: coil " + std::to_string(line.coil) + " of unit " +
                    std::to_string(line.unit) + " at " + address.place() +
                    " is switched by another output");
  }
  if (line.read_back) host->will_confirm(host->context, number);
  *handle = output.release();
  return TW_OK;
}

std::int32_t switch_to(Output& output, std::uint32_t level) {
  const Written written =
      output.bus->write(output.line, output.coil_at(level), Clock::now() + kCallMax);
  switch (written.outcome) {
    case Outcome::done:
      return TW_OK;
    case Outcome::unavailable:
      return fail(output.host, TW_UNAVAILABLE, written.why);
    case Outcome::refused:
      return fail(output.host, TW_FAILED, written.why);
  }
  return TW_FAILED;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  return switch_to(*static_cast<Output*>(handle), level);
}

std::int32_t make_safe(void* handle) {
  auto& output = *static_cast<Output*>(handle);
  return switch_to(output, output.safe);
}

void close_output(void* handle) {
  const std::unique_ptr<Output> output(static_cast<Output*>(handle));
  output->bus->leave(output->line);
}

constexpr tw_plugin kPlugin =
    tubwarden::actuator("modbus_coil", TW_IS_NETWORK | TW_NAMES_FILES, kOptions, open_output, apply,
                        make_safe, close_output);

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
