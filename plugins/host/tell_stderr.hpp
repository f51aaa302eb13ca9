// Words for the journal, or for whoever started the host.
// Threading: any; it does not allocate. Failure: words that nobody takes are lost.
#pragma once

#include <poll.h>
#include <unistd.h>

#include <string_view>

namespace tubwarden::host {

/// Never waits: a journal that stands still must not keep an output from being made safe.
inline void tell_stderr(std::string_view words) noexcept {
  pollfd out{STDERR_FILENO, POLLOUT, 0};
  if (::poll(&out, 1, 0) <= 0) return;
  [[maybe_unused]] const ssize_t wrote = ::write(STDERR_FILENO, words.data(), words.size());
}

}  // namespace tubwarden::host
