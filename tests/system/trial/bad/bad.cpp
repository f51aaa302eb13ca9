// A plugin that breaks one promise, chosen when it is built; with none, it keeps them all. It is
// written against plugin.h alone, as a stranger's would be.

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <clocale>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <string>
#include <thread>

#include "sdk/plugin.h"

#define BAD_leaks 1
#define BAD_accepts_all 2
#define BAD_hangs_when_safe 3
#define BAD_fails_to_run 4
#define BAD_crashes_between 5
#define BAD_never_confirms 6
#define BAD_confirms_unasked 7
#define BAD_refuses_short_leases 8
#define BAD_locks_itself_out 9
#define BAD_opens_once 10
#define BAD_exits 11
#define BAD_wrong_row 12
#define BAD_sets_the_locale 13
#define BAD_starts_a_thread 14
#define BAD_gives_no_handle 15
#define BAD_silent_refusal 16
#define BAD_loses_messages 17
#define BAD_chokes_on_long_text 18
#define BAD_takes_the_signals 19
#define BAD_none 20

namespace {

constexpr bool is(int fault) { return fault == BAD; }

struct Output {
  const tw_host* host;
  std::uint32_t number, safe;
  int file;
  std::string lock;
};

int opened = 0;

void say(const tw_host* host, const char* text) { host->say(host->context, TW_ERROR, text); }

[[noreturn]] void hang() {
  for (;;) ::pause();
}

std::int32_t open_output(const tw_host* host, std::uint32_t number, const tw_output* spec,
                         void** handle) {
  const char* path = host->option(host->context, "file", 0);
  const char* word = host->option(host->context, "word", 0);
  if (path == nullptr && is(BAD_accepts_all)) path = "/dev/null";
  if (path == nullptr || (std::strcmp(word, "a") != 0 && std::strcmp(word, "b") != 0)) {
    if (!is(BAD_silent_refusal)) say(host, "wiring: file is required, and word is a or b");
    return TW_BAD_OPTION;
  }
  if (++opened > 1 && is(BAD_opens_once)) {
    say(host, "the bus is busy");
    return TW_FAILED;
  }
  const std::string lock = std::string(path) + ".lock";
  if (is(BAD_locks_itself_out)) {
    const int locked = ::open(lock.c_str(), O_CREAT | O_EXCL, 0600);
    if (locked < 0) {
      say(host, "another process has it");
      return TW_FAILED;
    }
    ::close(locked);
  }
  if (is(BAD_gives_no_handle)) return TW_OK;
  const int file = ::open(path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
  if (is(BAD_never_confirms)) host->will_confirm(host->context, number);
  if (is(BAD_takes_the_signals)) ::signal(SIGTERM, SIG_IGN);
  *handle = new Output{host, number, spec->safe_permille, file, lock};
  return TW_OK;
}

std::int32_t apply(void* handle, std::uint32_t level, std::uint32_t, std::uint32_t lease_ms,
                   std::uint64_t) {
  const auto& output = *static_cast<Output*>(handle);
  if (is(BAD_fails_to_run) && level == 1000) {
    say(output.host, "no bus");
    return TW_FAILED;
  }
  if (is(BAD_crashes_between) && level == 250) std::abort();
  if (is(BAD_exits) && level == 1) std::_Exit(0);
  if (is(BAD_confirms_unasked)) output.host->confirm(output.host->context, output.number, level);
  if (is(BAD_refuses_short_leases) && lease_ms < 1000) {
    say(output.host, "too short a lease");
    return TW_FAILED;
  }
  const std::string line = std::to_string(level) + "\n";
  return ::write(output.file, line.data(), line.size()) > 0 ? TW_OK : TW_FAILED;
}

std::int32_t make_safe(void* handle) {
  static int asked = 0;
  if (is(BAD_hangs_when_safe) && ++asked == 2) hang();
  return apply(handle, static_cast<Output*>(handle)->safe, 0, 3000, 0);
}

void close_output(void* handle) {
  auto* output = static_cast<Output*>(handle);
  if (!is(BAD_leaks)) ::close(output->file);
  ::unlink(output->lock.c_str());
  delete output;
}

std::int32_t deliver(const tw_host* host, const char*, const char*, const char* message) {
  const char* path = host->option(host->context, "file", 0);
  const char* word = host->option(host->context, "word", 0);
  if (path == nullptr || (std::strcmp(word, "a") != 0 && std::strcmp(word, "b") != 0)) {
    say(host, "wiring: file is required, and word is a or b");
    return TW_BAD_OPTION;
  }
  if (is(BAD_chokes_on_long_text) && std::strlen(message) > 2000) std::abort();
  if (is(BAD_loses_messages)) return TW_FAILED;
  return TW_OK;
}

constexpr tw_option kOptions[] = {
    {"file", "text", "", nullptr, "The file that each change is appended to."},
    {"word", is(BAD_wrong_row) ? "colour" : "text", "a|b", "a", "One of two."},
};

constexpr bool kChannel = is(BAD_loses_messages) || is(BAD_chokes_on_long_text) || is(BAD_none);
constexpr bool kActuator = !kChannel || is(BAD_none);
constexpr std::uint32_t kKind =
    std::uint32_t{kActuator} * TW_KIND_ACTUATOR + std::uint32_t{kChannel} * TW_KIND_CHANNEL;

constexpr tw_plugin kPlugin = {
    TW_ABI, sizeof(tw_plugin), kKind, TW_CAN_LEVEL, BAD_NAME,     kOptions,
    2,      open_output,       apply, make_safe,    close_output, deliver};

struct OnLoad {
  OnLoad() {
    if (is(BAD_sets_the_locale)) std::setlocale(LC_ALL, "C.UTF-8");
    if (is(BAD_starts_a_thread)) std::thread(hang).detach();
  }
} on_load;

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
