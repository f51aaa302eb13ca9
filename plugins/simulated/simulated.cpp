// The simulated driver: appends one line, "boot_ns output level", to a file for each change, and
// nothing else. The model of a chamber reads that file as if it were a relay.

#include <fcntl.h>
#include <time.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string>

#include "sdk/entry.hpp"
#include "sdk/plugin.h"
#include "sdk/wiring.hpp"

namespace {

struct Output {
  const tw_host* host;
  std::string id;
  std::uint32_t safe;
  int file;
};

constexpr tw_option kOptions[] = {
    {"file", "device", "", nullptr, "The file that each change is appended to."},
};

std::int32_t open_output(const tw_host* host, std::uint32_t, const tw_output* spec, void** handle) {
  const auto wiring = tubwarden::Wiring::parse(spec->wiring);
  const auto path = wiring ? wiring->text("file") : wiring.error();
  if (!path) {
    host->say(host->context, TW_ERROR, path.error().text.c_str());
    return TW_BAD_OPTION;
  }
  const int file = ::open(path->c_str(), O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
  if (file < 0) {
    const std::string why = *path + ": " + std::strerror(errno);
    host->say(host->context, TW_ERROR, why.c_str());
    return TW_FAILED;
  }
  *handle = new Output{host, spec->id, spec->safe_permille, file};
  return TW_OK;
}

std::int32_t append(const Output& output, std::uint32_t level) {
  timespec now{};
  ::clock_gettime(CLOCK_BOOTTIME, &now);
  const long long ns = now.tv_sec * 1'000'000'000LL + now.tv_nsec;
  const std::string line =
      std::to_string(ns) + " " + output.id + " " + std::to_string(level) + "\n";
  // One write: lines of several outputs in one file do not mix.
  const ssize_t wrote = ::write(output.file, line.data(), line.size());
  if (wrote == static_cast<ssize_t>(line.size())) return TW_OK;
  const std::string why = std::string("the file cannot be written: ") + std::strerror(errno);
  output.host->say(output.host->context, TW_ERROR, why.c_str());
  return TW_FAILED;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  return append(*static_cast<Output*>(handle), level);
}

std::int32_t make_safe(void* handle) {
  const auto& output = *static_cast<Output*>(handle);
  return append(output, output.safe);
}

void close_output(void* handle) {
  auto* output = static_cast<Output*>(handle);
  ::close(output->file);
  delete output;
}

constexpr tw_plugin kPlugin =
    tubwarden::actuator("simulated", TW_CAN_LEVEL | TW_NAMES_FILES, kOptions, open_output, apply,
                        make_safe, close_output);

}  // namespace

extern "C" __attribute__((visibility("default"))) const tw_plugin* tubwarden_plugin(void) {
  return &kPlugin;
}
