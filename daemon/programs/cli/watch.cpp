#include "programs/cli/watch.hpp"

#include <fmt/format.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <vector>

namespace tubwarden::cli {
namespace {

constexpr timespec kEach{1, 0};
constexpr const char* kOpen = "\x1b[?1049h\x1b[?25l";
constexpr const char* kClose = "\x1b[?25h\x1b[?1049l";

/// A second sheet of the terminal while it lives; what was there before comes back with its end.
class Sheet {
 public:
  explicit Sheet(bool is_terminal) : is_terminal_(is_terminal) {
    if (is_terminal_) std::fputs(kOpen, stdout);
  }
  ~Sheet() {
    if (is_terminal_) std::fputs(kClose, stdout);
    std::fflush(stdout);
  }
  Sheet(const Sheet&) = delete;
  Sheet& operator=(const Sheet&) = delete;

 private:
  bool is_terminal_;
};

std::vector<std::string> lines_of(const std::string& page) {
  std::vector<std::string> lines;
  std::size_t at = 0;
  while (at < page.size()) {
    const std::size_t end = std::min(page.find('\n', at), page.size());
    lines.push_back(page.substr(at, end - at));
    at = end + 1;
  }
  return lines;
}

/// Each line over the one before, so nothing flickers; what does not fit is said.
void draw_over(const std::string& page, const Terminal& window) {
  std::vector<std::string> lines = lines_of(page);
  const auto height = static_cast<std::size_t>(std::max(window.height, 2));
  if (lines.size() > height) {
    const std::size_t left = lines.size() - height + 1;
    lines.resize(height - 1);
    lines.push_back(fmt::format("... {} more lines in a taller window", left));
  }
  std::string out = "\x1b[H";
  for (std::size_t i = 0; i < lines.size(); ++i) {
    out += (i ? "\r\n" : "") + cut(lines[i], static_cast<std::size_t>(window.width)) + "\x1b[K";
  }
  out += "\x1b[J";
  std::fwrite(out.data(), 1, out.size(), stdout);
}

sigset_t awaited() {
  sigset_t set;
  sigemptyset(&set);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP, SIGWINCH}) sigaddset(&set, signal);
  return set;
}

}  // namespace

Terminal terminal_now() {
  Terminal terminal;
  terminal.is_terminal = ::isatty(STDOUT_FILENO) == 1;
  winsize size{};
  if (terminal.is_terminal && ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) {
    terminal.width = size.ws_col;
    terminal.height = size.ws_row;
  } else if (const char* columns = std::getenv("COLUMNS"); columns && std::atoi(columns) > 0) {
    terminal.width = std::atoi(columns);
  }
  return terminal;
}

Outcome watch(const std::function<Result<std::string>(int width)>& draw) {
  const sigset_t signals = awaited();
  ::pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  Terminal window = terminal_now();
  Result<std::string> page = draw(window.width);
  if (!page.ok()) return page.error();
  std::string text;
  {
    const Sheet sheet(window.is_terminal);
    while (true) {
      text = page.ok() ? *page : page.error().text + "\n";
      if (window.is_terminal) {
        draw_over(text, window);
      } else {
        std::fputs((text + "\n").c_str(), stdout);
      }
      if (std::fflush(stdout) != 0) return Done{};  // nobody reads any more
      const int signal = ::sigtimedwait(&signals, nullptr, &kEach);
      if (signal == SIGINT || signal == SIGTERM || signal == SIGHUP) break;
      window = terminal_now();
      page = draw(window.width);
    }
  }
  if (window.is_terminal) std::fputs(text.c_str(), stdout);  // the last page stays
  return Done{};
}

}  // namespace tubwarden::cli
