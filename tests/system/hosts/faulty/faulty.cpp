// A driver with one fault, chosen when it is built. Each call appends "boot_ns pid call level" to
// the wiring's file before it does anything else, so that a test sees who did what, and when.

#include <fcntl.h>
#include <time.h>
#include <unistd.h>

#include <cstdlib>
#include <string>

#include "sdk/plugin.h"
#include "sdk/wiring.hpp"

namespace {

struct Output {
  int file;
  std::uint32_t safe;
  std::string path;
};

void note(int file, const char* call, std::uint32_t level) {
  timespec now{};
  ::clock_gettime(CLOCK_BOOTTIME, &now);
  const std::string line = std::to_string(now.tv_sec * 1'000'000'000LL + now.tv_nsec) + " " +
                           std::to_string(::getpid()) + " " + call + " " + std::to_string(level) +
                           "\n";
  if (::write(file, line.data(), line.size()) != static_cast<ssize_t>(line.size())) std::abort();
}

[[maybe_unused]] void hang() {
  for (;;) ::pause();
}

std::int32_t open_output(const tw_host*, std::uint32_t, const tw_output* spec, void** handle) {
  const auto wiring = tubwarden::Wiring::parse(spec->wiring);
  const auto path = wiring->text("file");
  const int file = ::open(path->c_str(), O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
  if (file < 0) return TW_FAILED;
  note(file, "open", 0);
#if defined(FAULT_CRASH_IN_OPEN)
  std::abort();
#endif
  *handle = new Output{file, spec->safe_permille, *path};
  return TW_OK;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  note(static_cast<Output*>(handle)->file, "apply", level);
#if defined(FAULT_HANG_IN_APPLY) || defined(FAULT_HANG_ALWAYS)
  if (level == 1000) hang();
#elif defined(FAULT_CRASH_IN_APPLY)
  if (level == 1000) std::abort();
#endif
  return TW_OK;
}

std::int32_t make_safe(void* handle) {
  const auto& output = *static_cast<Output*>(handle);
  note(output.file, "safe", output.safe);
#if defined(FAULT_HANG_ALWAYS)
  // Once it has hung, it hangs for everybody, as a bus that a device holds down.
  if (::access((std::string(std::getenv("FAULTY_HUNG"))).c_str(), F_OK) == 0) hang();
  const char* only = std::getenv("FAULTY_HUNG_AT");
  if (only != nullptr && output.path == only) hang();
#endif
  return TW_OK;
}

void close_output(void* handle) {
  auto* output = static_cast<Output*>(handle);
  note(output->file, "close", 0);
  ::close(output->file);
  delete output;
}

constexpr tw_option kOptions[] = {
    {"file", "text", "", nullptr, "The file that each call is appended to."},
};

#if defined(FAULT_WRONG_ABI)
constexpr std::uint32_t kAbi = TW_ABI + 7;
#else
constexpr std::uint32_t kAbi = TW_ABI;
#endif
#if defined(FAULT_WRONG_SIZE)
constexpr std::uint32_t kSize = sizeof(tw_plugin) - 8;
#else
constexpr std::uint32_t kSize = sizeof(tw_plugin);
#endif

#if defined(FAULT_LATER_SIZE)
/// A table that has grown, as the interface allows.
struct Later {
  tw_plugin now;
  void (*one_more)();
};
constexpr Later kLater = {
    {TW_ABI, sizeof(Later), TW_KIND_ACTUATOR, TW_CAN_LEVEL | 1u << 31, FAULT_NAME, kOptions, 1,
     open_output, apply, make_safe, close_output, nullptr},
    nullptr};
constexpr const tw_plugin& kPlugin = kLater.now;
#else
constexpr tw_plugin kPlugin = {kAbi,         kSize,  TW_KIND_ACTUATOR, TW_CAN_LEVEL, FAULT_NAME,
                               kOptions,     1,      open_output,      apply,        make_safe,
                               close_output, nullptr};
#endif

}  // namespace

#if defined(FAULT_NO_ENTRY)
extern "C" __attribute__((visibility("default"))) const tw_plugin* another_name(void) {
  return &kPlugin;
}
#else
extern "C" __attribute__((visibility("default"))) const tw_plugin* tubwarden_plugin(void) {
  return &kPlugin;
}
#endif
