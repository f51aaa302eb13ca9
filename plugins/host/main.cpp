// tubwarden-plugin-host: loads one plugin and does what the daemon says, in a process of its own.

#include <fcntl.h>
#include <unistd.h>

#include <charconv>
#include <cstdio>
#include <cstring>
#include <map>
#include <optional>
#include <string>

#include "host/limits.hpp"
#include "host/loaded_plugin.hpp"
#include "host/safe_run.hpp"
#include "host/server.hpp"
#include "host/stop_post.hpp"
#include "host/trial.hpp"
#include "sdk/protocol.hpp"

namespace {

using namespace tubwarden;

constexpr const char* kUsage =
    "Loads one plugin of tubwardend; started by it, but for --describe, --try, --make-safe.\n"
    "  tubwarden-plugin-host --describe PLUGIN.so        prints its options as JSON\n"
    "  tubwarden-plugin-host --try PLUGIN.so OPTIONS.json\n"
    "                                                    tries it by every case: it switches\n"
    "  tubwarden-plugin-host --plugin PLUGIN.so --fd N [--memory MIB] [--cpu SECONDS]\n"
    "                                                    serves the daemon behind descriptor N\n"
    "  tubwarden-plugin-host --safe-run --spec N [--fd N] [--after N] [--last OUTPUT] [--hurry]\n"
    "                                                    makes a hung host's outputs safe\n"
    "  tubwarden-plugin-host --make-safe LIST            makes all outputs of a daemon's list "
    "safe,\n"
    "                                                    once the daemon and its hosts have "
    "ended\n";

int wrong(const std::string& why) {
  std::fprintf(stderr, "%s\n%s", why.c_str(), kUsage);
  return protocol::kExitUsage;
}

std::optional<std::uint32_t> number(const std::string& text) {
  std::uint32_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

/// An inherited descriptor, closed again in whatever this process starts.
std::optional<int> inherited(const std::map<std::string, std::string>& words, const char* name) {
  const auto found = words.find(name);
  if (found == words.end()) return std::nullopt;
  const auto fd = number(found->second);
  if (!fd || ::fcntl(static_cast<int>(*fd), F_SETFD, FD_CLOEXEC) != 0) return std::nullopt;
  return static_cast<int>(*fd);
}

int describe(const std::string& path) {
  const Result<const tw_plugin*> plugin = host::load_plugin(path);
  if (!plugin) {
    std::fprintf(stderr, "%s\n", plugin.error().text.c_str());
    return protocol::kExitRefused;
  }
  std::printf("%s\n", protocol::encode(host::describe(**plugin)).c_str());
  return std::fflush(stdout) == 0 ? protocol::kExitDone : protocol::kExitUsage;
}

}  // namespace

int main(int argc, char** argv) {
  std::map<std::string, std::string> words;
  bool safe_run = false, hurry = false;
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    if (word == "--help") return std::fputs(kUsage, stdout) < 0 ? protocol::kExitUsage : 0;
    if (word == "--safe-run") {
      safe_run = true;
      continue;
    }
    if (word == "--hurry") {
      hurry = true;
      continue;
    }
    if (word == "--try") {
      if (i + 3 != argc) return wrong("--try needs a plugin and its options, and nothing after");
      return host::try_plugin(argv[i + 1], argv[i + 2]);
    }
    const bool known = word == "--describe" || word == "--plugin" || word == "--fd" ||
                       word == "--spec" || word == "--after" || word == "--last" ||
                       word == "--make-safe" || word == "--memory" || word == "--cpu";
    if (!known) return wrong("unknown word " + word);
    if (i + 1 >= argc) return wrong(word + " needs a value");
    words[word] = argv[++i];
  }
  const auto socket = inherited(words, "--fd");
  if (safe_run) {
    host::SafeRunOrder order;
    const auto spec = inherited(words, "--spec");
    if (!spec) return wrong("--safe-run needs --spec with an open descriptor");
    order.spec = *spec;
    order.socket = socket.value_or(-1);
    order.after = inherited(words, "--after").value_or(-1);
    if (words.contains("--last")) order.last = number(words["--last"]).value_or(0);
    if (hurry) {
      order.talks = false;
      order.call_ms_max = host::kHurriedCallMsMax;
      order.reach_max = host::kHurriedReachMax;
    }
    return host::safe_run(order);
  }
  if (words.contains("--make-safe")) return host::make_safe(words["--make-safe"]);
  if (words.contains("--describe")) return describe(words["--describe"]);
  if (!words.contains("--plugin"))
    return wrong("--plugin, --describe, --safe-run or --make-safe is needed");
  if (!socket) return wrong("--plugin needs --fd with an open descriptor");
  host::LimitOrder limits;
  for (const auto& [word, value] :
       {std::pair{"--memory", &limits.memory_mib}, std::pair{"--cpu", &limits.cpu_s}}) {
    if (!words.contains(word)) continue;
    const auto given = number(words[word]);
    if (!given || *given == 0) return wrong(std::string(word) + " needs a whole number above 0");
    *value = *given;
  }
  return host::serve(words["--plugin"], *socket, limits);
}
