#include "programs/tubwardend/sheet_parts.hpp"

#include <fcntl.h>
#include <sys/random.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace tubwarden {
namespace {

constexpr std::size_t kKeyBytes = 32;

/// The key in `path`, which is made where there is none.
Result<std::string> cookie_key(const std::string& path) {
  const auto cannot = [&](const char* what) {
    return Error{ErrorCode::unavailable, path + " cannot be " + what + ": " + std::strerror(errno)};
  };
  std::array<char, kKeyBytes + 1> bytes{};
  int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
  if (file >= 0) {
    const ssize_t got = ::read(file, bytes.data(), bytes.size());
    ::close(file);
    if (got == static_cast<ssize_t>(kKeyBytes)) return std::string(bytes.data(), kKeyBytes);
    if (got < 0) return cannot("read");
  } else if (errno != ENOENT) {
    return cannot("read");
  }
  // None, or half of one, which an end of the power has left.
  if (::getrandom(bytes.data(), kKeyBytes, 0) != static_cast<ssize_t>(kKeyBytes)) {
    return cannot("made");
  }
  file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (file < 0) return cannot("written");
  const ssize_t written = ::write(file, bytes.data(), kKeyBytes);
  ::close(file);
  if (written != static_cast<ssize_t>(kKeyBytes)) return cannot("written");
  return std::string(bytes.data(), kKeyBytes);
}

}  // namespace

Result<SheetOptions> sheet_options(const SheetSettings& settings, const std::string& state_folder) {
  SheetOptions options;
  options.address = settings.address;
  options.port = static_cast<std::uint16_t>(settings.port);
  options.tokens_file = settings.tokens_file.value_or("");
  options.cert_file = settings.cert_file.value_or("");
  options.key_file = settings.key_file.value_or("");
  options.name = settings.name.value_or("");
  options.proxy = settings.proxy.value_or("");
  if (options.tokens_file.empty()) return options;  // then nobody has a cookie
  auto key = cookie_key(state_folder + "/sheet-key");
  if (!key.ok()) return key.error();
  options.cookie_key = std::move(*key);
  return options;
}

SheetCounts counts_of(const SheetCounters& c) {
  return {{"listening", c.listening ? 1 : 0},
          {"connections", static_cast<std::uint64_t>(c.connections)},
          {"live", static_cast<std::uint64_t>(c.live)},
          {"requests", c.requests},
          {"live_events", c.live_events},
          {"malformed", c.malformed},
          {"too_large", c.too_large},
          {"too_slow", c.too_slow},
          {"too_many", c.too_many},
          {"paced", c.paced},
          {"foreign", c.foreign},
          {"wrong_tokens", c.wrong_tokens},
          {"locked_out", c.locked_out},
          {"live_dropped", c.live_dropped}};
}

}  // namespace tubwarden
