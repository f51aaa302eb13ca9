// A driver with one fault, chosen when it is built. Each call appends "boot_ns pid call level" to
// the wiring's file before it does anything else, so that a test sees who did what, and when.

#include <fcntl.h>
#include <poll.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <string>
#include <thread>

#include "sdk/plugin.h"
#include "sdk/wiring.hpp"

namespace {

struct Output {
  const tw_host* host;
  std::uint32_t number;
  int file;
  std::uint32_t safe;
  std::string path;
  std::atomic<bool> over{false};
  std::thread busy;  ///< of a fault that goes on by itself
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

/// Takes all the memory there is and uses it, then ends as a program does that has none.
[[maybe_unused]] void eat_memory(int file) {
  constexpr std::size_t kPiece = 1u << 20;
  for (std::uint32_t mib = 0;; ++mib) {
    void* piece =
        ::mmap(nullptr, kPiece, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (piece == MAP_FAILED || mib == 4096) {
      note(file, "ate", mib);
      std::abort();
    }
    std::memset(piece, 1, kPiece);
  }
}

[[maybe_unused]] void burn_cpu(Output& output) {
  while (!output.over) continue;
}

/// Speaks without end, of everything one may speak of.
[[maybe_unused]] void chatter(Output& output) {
  while (!output.over) {
    // Some thousand a second: a flood, that a test's words stay readable in.
    pollfd nothing{-1, 0, 0};
    ::poll(&nothing, 1, 1);
    for (int i = 0; i < 20; ++i) {
      output.host->say(output.host->context, TW_INFO, "and another thing");
      output.host->confirm(output.host->context, output.number, 1000);
    }
  }
}

/// Speaks to the daemon behind its host's back: no JSON, half of one, what is none of its messages,
/// too long, and much of it.
[[maybe_unused]] void garbage() {
  int socket = -1;
  for (int fd = 3; fd < 16; ++fd) {
    int type = 0;
    socklen_t size = sizeof type;
    const bool is = ::getsockopt(fd, SOL_SOCKET, SO_TYPE, &type, &size) == 0;
    if (is && type == SOCK_SEQPACKET) socket = fd;
  }
  const std::string long_one(64 * 1024, 'x');
  for (const std::string& packet :
       {std::string("\xff\x00\x01 no json", 11), std::string(R"({"do":"confirm","output":)"),
        std::string(R"({"do":"explode"})"), std::string(R"({"do":"confirm","output":-7})"),
        std::string(R"({"do":"fell","output":4000000,"sequence":1})"), long_one}) {
    for (int i = 0; i < 40; ++i) ::send(socket, packet.data(), packet.size(), MSG_DONTWAIT);
  }
}

/// Reads a file that its options do not name.
[[maybe_unused]] void open_unnamed(const Output& output) {
  const int file = ::open((output.path + ".unnamed").c_str(), O_RDONLY | O_CLOEXEC);
  note(output.file, "unnamed", file < 0 ? static_cast<std::uint32_t>(errno) : 0);
  if (file >= 0) ::close(file);
}

std::int32_t open_output(const tw_host* host, std::uint32_t number, const tw_output* spec,
                         void** handle) {
  const auto wiring = tubwarden::Wiring::parse(spec->wiring);
  const auto path = wiring->text("file");
  const int file = ::open(path->c_str(), O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
  if (file < 0) return TW_FAILED;
  note(file, "open", 0);
#if defined(FAULT_CRASH_IN_OPEN)
  std::abort();
#endif
  auto* output = new Output{host, number, file, spec->safe_permille, *path, {}, {}};
#if defined(FAULT_BURN_CPU)
  output->busy = std::thread([output] { burn_cpu(*output); });
#elif defined(FAULT_CHATTER)
  output->busy = std::thread([output] { chatter(*output); });
#endif
  *handle = output;
  return TW_OK;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t, std::uint64_t) {
  note(static_cast<Output*>(handle)->file, "apply", level);
#if defined(FAULT_HANG_IN_APPLY) || defined(FAULT_HANG_ALWAYS)
  if (level == 1000) hang();
#elif defined(FAULT_CRASH_IN_APPLY)
  if (level == 1000) std::abort();
#elif defined(FAULT_EAT_MEMORY)
  if (level == 1000) eat_memory(static_cast<Output*>(handle)->file);
#elif defined(FAULT_GARBAGE)
  if (level == 1000) garbage();
#elif defined(FAULT_OPEN_UNNAMED)
  if (level == 1000) open_unnamed(*static_cast<Output*>(handle));
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
  output->over = true;
  if (output->busy.joinable()) output->busy.join();
  note(output->file, "close", 0);
  ::close(output->file);
  delete output;
}

#if defined(FAULT_OPEN_UNNAMED)
constexpr std::uint32_t kCan = TW_CAN_LEVEL | TW_NAMES_FILES;
#else
constexpr std::uint32_t kCan = TW_CAN_LEVEL;
#endif

constexpr tw_option kOptions[] = {
    {"file", kCan == TW_CAN_LEVEL ? "text" : "device", "", nullptr,
     "The file that each call is appended to."},
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
constexpr tw_plugin kPlugin = {kAbi,         kSize,  TW_KIND_ACTUATOR, kCan,  FAULT_NAME,
                               kOptions,     1,      open_output,      apply, make_safe,
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
