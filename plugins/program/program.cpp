// The grower's own program, as a channel and as a driver. For each message it reads one JSON object
// on stdin, and finds rank, state, title and key in its environment; for each change of an output
// it gets the level in permille as its last argument. No part of a message is an argument: a title
// can never become a word of a command line.

#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <memory>
#include <string>
#include <vector>

#include "program/child.hpp"
#include "sdk/note.hpp"
#include "sdk/plugin.h"
#include "sdk/wiring.hpp"

namespace {

using std::chrono::milliseconds;
using tubwarden::Error;
using tubwarden::ErrorCode;
using tubwarden::Result;
using tubwarden::Wiring;

constexpr tw_option kOptions[] = {
    {"argv", "list", "", nullptr, "The program (a full path) and its arguments."},
    {"timeout", "duration", "100ms..60s", "20s",
     "As a channel: after this long the program is ended."},
    {"switch_timeout", "duration", "50ms..1400ms", "700ms",
     "As a driver: after this long the program is ended, and the change has failed."},
};

struct Limits {
  const char* name;
  milliseconds low, high, fallback;
};
/// The highest are below the host's own patience with deliver() and with apply().
constexpr Limits kChannel = {"timeout", milliseconds(100), milliseconds(60000),
                             milliseconds(20000)};
constexpr Limits kDriver = {"switch_timeout", milliseconds(50), milliseconds(1400),
                            milliseconds(700)};

Error bad(std::string text) { return {ErrorCode::bad_input, "wiring: " + std::move(text)}; }

Result<milliseconds> limit_of(const Wiring& wiring, const Limits& limits) {
  const auto limit = wiring.duration_or(limits.name, limits.fallback);
  if (!limit) return limit.error();
  if (*limit < limits.low || *limit > limits.high) {
    return bad(std::string(limits.name) + " must be " + std::to_string(limits.low.count()) +
               "ms to " + std::to_string(limits.high.count()) + "ms");
  }
  return *limit;
}

struct Plan {
  std::vector<std::string> argv;
  milliseconds limit{0};
};

/// Both limits are checked in both roles: a typing error waits for nobody.
Result<Plan> plan_of(const char* wiring_json, const Limits& role) {
  const Result<Wiring> wiring = Wiring::parse(wiring_json);
  if (!wiring) return wiring.error();
  const auto argv = wiring->list("argv");
  if (!argv) return argv.error();
  if ((*argv)[0].empty() || (*argv)[0][0] != '/') {
    return bad("argv must begin with the full path of a program, not '" + (*argv)[0] + "'");
  }
  const auto channel = limit_of(*wiring, kChannel), driver = limit_of(*wiring, kDriver);
  for (const auto* limit : {&channel, &driver}) {
    if (!limit->ok()) return limit->error();
  }
  return Plan{*argv, &role == &kChannel ? *channel : *driver};
}

std::int32_t fail(const tw_host* host, std::int32_t code, const std::string& why) {
  host->say(host->context, TW_ERROR, why.c_str());
  return code;
}

struct Output {
  const tw_host* host;
  Plan plan;
  std::uint32_t safe;
};

std::int32_t open_output(const tw_host* host, std::uint32_t, const tw_output* spec, void** handle) {
  Result<Plan> plan = plan_of(spec->wiring, kDriver);
  if (!plan) return fail(host, TW_BAD_OPTION, plan.error().text);
  if (::access(plan->argv[0].c_str(), X_OK) != 0) {
    return fail(host, TW_FAILED, plan->argv[0] + ": " + std::strerror(errno));
  }
  *handle = new Output{host, std::move(plan.value()), spec->safe_permille};
  return TW_OK;
}

std::int32_t switch_to(const Output& output, std::uint32_t level) {
  std::vector<std::string> argv = output.plan.argv;
  argv.push_back(std::to_string(level));
  const auto why = tubwarden::program::run(argv, "", {}, output.plan.limit);
  return why ? fail(output.host, TW_FAILED, *why) : TW_OK;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  return switch_to(*static_cast<Output*>(handle), level);
}

std::int32_t make_safe(void* handle) {
  const auto& output = *static_cast<Output*>(handle);
  return switch_to(output, output.safe);
}

void close_output(void* handle) { delete static_cast<Output*>(handle); }

/// What a short script needs without reading JSON. One line each, whatever was said.
std::vector<std::string> variables_of(const tubwarden::Note& note) {
  std::vector<std::string> all = {"TUBWARDEN_RANK=" + note.rank, "TUBWARDEN_STATE=" + note.state,
                                  "TUBWARDEN_TITLE=" + note.title, "TUBWARDEN_KEY=" + note.key};
  for (std::string& line : all) {
    std::replace_if(
        line.begin(), line.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20; }, ' ');
  }
  return all;
}

std::int32_t deliver(const tw_host* host, const char* wiring_json, const char*,
                     const char* message) {
  const Result<Plan> plan = plan_of(wiring_json, kChannel);
  if (!plan) return fail(host, TW_BAD_OPTION, plan.error().text);
  const Result<tubwarden::Note> note = tubwarden::parse_note(message);
  if (!note) return fail(host, TW_BAD_OPTION, note.error().text);
  const auto why = tubwarden::program::run(plan->argv, message, variables_of(*note), plan->limit);
  return why ? fail(host, TW_FAILED, *why) : TW_OK;
}

constexpr tw_plugin kPlugin = {TW_ABI,
                               sizeof(tw_plugin),
                               TW_KIND_ACTUATOR | TW_KIND_CHANNEL,
                               TW_CAN_LEVEL,
                               "program",
                               kOptions,
                               3,
                               open_output,
                               apply,
                               make_safe,
                               close_output,
                               deliver};

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
