#include "host/trial.hpp"

#include <poll.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <clocale>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "host/loaded_plugin.hpp"
#include "host/outputs.hpp"
#include "host/trial_cases.hpp"
#include "sdk/pidfd.hpp"

namespace tubwarden::host {

namespace {

constexpr std::size_t kOptionsBytesMax = 64 * 1024;
/// Above what all calls of a case may take together.
constexpr Duration kCaseMax = seconds(60);
constexpr Duration kDeliverCaseMax = minutes(10);

/// What a plugin finds when it is loaded, and must leave as it is.
struct Surroundings {
  std::string locale, folder;
  std::array<struct sigaction, 32> signals{};
  std::size_t threads = 0;

  static Surroundings now() {
    Surroundings found;
    found.locale = std::setlocale(LC_ALL, nullptr);
    found.folder = std::filesystem::current_path().string();
    for (int number = 1; number < 32; ++number) {
      ::sigaction(number, nullptr, &found.signals[static_cast<std::size_t>(number)]);
    }
    std::error_code error;
    const std::filesystem::directory_iterator tasks("/proc/self/task", error);
    found.threads =
        static_cast<std::size_t>(std::distance(tasks, std::filesystem::directory_iterator()));
    return found;
  }
};

std::optional<std::string> changed(const Surroundings& before, const Surroundings& now) {
  if (now.locale != before.locale) return "the locale, to " + now.locale;
  if (now.folder != before.folder) return "the working folder, to " + now.folder;
  for (std::size_t number = 1; number < 32; ++number) {
    if (now.signals[number].sa_handler != before.signals[number].sa_handler) {
      return "what happens on signal " + std::to_string(number);
    }
  }
  return std::nullopt;
}

TrialSheet* new_sheet() {
  void* page = ::mmap(nullptr, sizeof(TrialSheet), PROT_READ | PROT_WRITE,
                      MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  ENSURE(page != MAP_FAILED);
  return new (page) TrialSheet();
}

struct Tried {
  bool ended = true;  ///< within its time
  int status = 0;     ///< as waitpid gives it
};

/// In a process of its own, so that nothing of one case reaches another.
template <class Work>
Tried in_process(Duration limit, Work work) {
  std::fflush(stdout);
  const pid_t pid = ::fork();
  ENSURE(pid >= 0);
  if (pid == 0) {
    work();
    ::_exit(static_cast<int>(Ending::passed));
  }
  const int pidfd = open_pidfd(pid);
  ENSURE(pidfd >= 0);
  pollfd over{pidfd, POLLIN, 0};
  Tried tried;
  const auto ms = std::chrono::duration_cast<milliseconds>(limit).count();
  tried.ended = ::poll(&over, 1, static_cast<int>(ms)) > 0;
  if (!tried.ended) ::kill(pid, SIGKILL);
  while (::waitpid(pid, &tried.status, 0) < 0 && errno == EINTR) continue;
  ::close(pidfd);
  return tried;
}

/// Loads the plugin as a host does, and runs `work` on it.
template <class Work>
void on_stage(const std::string& path, const protocol::TrialOptions& options, TrialSheet& sheet,
              Work work) {
  ::signal(SIGPIPE, SIG_IGN);
  const Surroundings before = Surroundings::now();
  std::snprintf(sheet.call.data(), sheet.call.size(), "loading");
  const Result<const tw_plugin*> plugin = load_plugin(path);
  const std::size_t threads = Surroundings::now().threads;
  sheet.call[0] = '\0';
  if (!plugin) {
    std::snprintf(sheet.verdict.data(), sheet.verdict.size(), "%s", plugin.error().text.c_str());
    ::_exit(static_cast<int>(Ending::failed));
  }
  Stage stage(**plugin, options, sheet);
  if (threads != before.threads) stage.fail("loading it starts a thread");
  if (std::filesystem::path(path).stem() != (*plugin)->name) {
    stage.fail(std::string("its name is '") + (*plugin)->name + "', its file's is another");
  }
  const std::string word = work(stage);
  if (const auto what = changed(before, Surroundings::now())) {
    stage.fail("it changes " + *what);
  }
  stage.end(Ending::passed, word);
}

/// How a process of a case ended, as one of the three; the verdict is on the sheet.
Ending judged(const Tried& tried, TrialSheet& sheet) {
  const std::string call = sheet.call[0] != '\0' ? sheet.call.data() : "no call that is timed";
  std::string verdict;
  if (!tried.ended) {
    verdict = "did not end: in " + call;
  } else if (WIFSIGNALED(tried.status)) {
    verdict = std::string("crashed in ") + call + ": " + ::strsignal(WTERMSIG(tried.status));
  } else if (const int code = WEXITSTATUS(tried.status); code <= 3 && sheet.call[0] == '\0') {
    return static_cast<Ending>(code);
  } else if (sheet.verdict[0] == '\0') {
    verdict = "ended its process in " + call;
  }
  if (!verdict.empty()) {
    std::snprintf(sheet.verdict.data(), sheet.verdict.size(), "%s", verdict.c_str());
  }
  return Ending::failed;
}

/// The first of a case's two processes ends as the case wants it: hung, or killed.
bool as_wanted(const Tried& tried) {
  if (!tried.ended) return false;
  return WIFSIGNALED(tried.status) ? WTERMSIG(tried.status) == SIGKILL
                                   : WEXITSTATUS(tried.status) == protocol::kExitHung;
}

Ending run_case(const TrialCase& each, const std::string& path,
                const protocol::TrialOptions& options, TrialSheet& sheet) {
  const Duration limit = each.kind == TW_KIND_CHANNEL ? kDeliverCaseMax : kCaseMax;
  sheet = {};
  if (each.before != nullptr) {
    const Tried first = in_process(limit, [&] {
      on_stage(path, options, sheet, [&](Stage& stage) {
        each.before(stage);
        return std::string();
      });
    });
    if (!as_wanted(first)) return judged(first, sheet);
    sheet = {};
  }
  const Tried tried = in_process(limit, [&] { on_stage(path, options, sheet, each.run); });
  return judged(tried, sheet);
}

std::string read_file(const std::string& path, bool& readable) {
  std::ifstream in(path, std::ios::binary);
  std::string text(kOptionsBytesMax + 1, '\0');
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  text.resize(static_cast<std::size_t>(std::max<std::streamsize>(in.gcount(), 0)));
  readable = !in.bad() && !text.empty() && text.size() <= kOptionsBytesMax;
  return text;
}

/// What it says of itself; asked in a process of its own, too.
std::uint32_t kind_of(const std::string& path, const protocol::TrialOptions& options,
                      TrialSheet& sheet) {
  sheet = {};
  const Tried tried = in_process(kCaseMax, [&] {
    on_stage(path, options, sheet,
             [](Stage& stage) { return std::to_string(stage.plugin().kind); });
  });
  if (judged(tried, sheet) != Ending::passed) return 0;
  return static_cast<std::uint32_t>(std::strtoul(sheet.verdict.data(), nullptr, 10));
}

}  // namespace

int try_plugin(const std::string& plugin_path, const std::string& options_path) {
  bool readable = false;
  const std::string text = read_file(options_path, readable);
  const auto options = protocol::decode_trial_options(text);
  if (!readable || !options) {
    std::fprintf(stderr, "%s: %s\n", options_path.c_str(),
                 readable ? options.error().text.c_str() : "cannot be read, or is over 64 KiB");
    return protocol::kExitUsage;
  }
  TrialSheet& sheet = *new_sheet();
  const std::uint32_t kind = kind_of(plugin_path, *options, sheet);
  int passed = 0, failed = 0, skipped = 0;
  for (const TrialCase& each : trial_cases()) {
    // A plugin that does not say what it is has failed to describe itself, and is tried no more.
    if (kind == 0 ? each.kind != (TW_KIND_ACTUATOR | TW_KIND_CHANNEL) : (each.kind & kind) == 0) {
      continue;
    }
    const Ending ending = run_case(each, plugin_path, *options, sheet);
    const char* word = "FAIL";
    switch (ending) {
      case Ending::passed:
        word = "pass";
        ++passed;
        break;
      case Ending::not_applicable:
        word = "n/a ";
        ++skipped;
        break;
      case Ending::failed:
      case Ending::out_of_reach:
        ++failed;
        break;
    }
    std::printf("%s  %-12s  %s%s%s\n", word, each.name, each.promise,
                sheet.verdict[0] != '\0' ? ": " : "", sheet.verdict.data());
    if (kind == 0 || ending == Ending::out_of_reach) break;
  }
  std::printf("%s: %d passed, %d failed, %d not applicable\n",
              std::filesystem::path(plugin_path).filename().c_str(), passed, failed, skipped);
  return failed == 0 && passed > 0 ? protocol::kExitDone : protocol::kExitSomeLeft;
}

}  // namespace tubwarden::host
