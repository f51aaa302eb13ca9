#include "shell/log/stderr_writer.hpp"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <string>

namespace tubwarden::log {

namespace {
constexpr int kPatienceMs = 1000;
}  // namespace

bool StderrWriter::write(std::string_view line) {
  std::string cut;
  if (line.size() > kLineBytesMax) {
    cut = std::string(line.substr(0, kLineBytesMax - 4)) + "...\n";
    line = cut;
  }
  while (!line.empty()) {
    // Writable means for a pipe that a whole line fits; a reader that stands still is waited for
    // once.
    pollfd out{STDERR_FILENO, POLLOUT, 0};
    const int ready = ::poll(&out, 1, stuck_ ? 0 : kPatienceMs);
    if (ready < 0 && errno == EINTR) continue;
    stuck_ = ready <= 0;
    if (stuck_) return false;
    const ssize_t wrote = ::write(STDERR_FILENO, line.data(), line.size());
    if (wrote < 0 && errno != EINTR && errno != EAGAIN) return false;
    line.remove_prefix(static_cast<std::size_t>(std::max<ssize_t>(wrote, 0)));
  }
  return true;
}

}  // namespace tubwarden::log
