#include "shell/hosts/describe.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <utility>

#include "sdk/protocol.hpp"
#include "shell/hosts/spawn.hpp"

namespace tubwarden {

namespace {

constexpr std::chrono::seconds kDescribeMax{5};
constexpr std::size_t kTextMax = 64 * 1024;

/// Reads to the end; false when that takes too long or too much.
bool read_to_end(int fd, std::string& text) {
  const auto end = std::chrono::steady_clock::now() + kDescribeMax;
  for (;;) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
        end - std::chrono::steady_clock::now());
    pollfd ready{fd, POLLIN, 0};
    if (left.count() <= 0 || ::poll(&ready, 1, static_cast<int>(left.count())) == 0) return false;
    std::array<char, 4096> piece{};
    const ssize_t got = ::read(fd, piece.data(), piece.size());
    if (got == 0) return true;
    if (got < 0 && errno != EINTR) return false;
    if (got > 0) text.append(piece.data(), static_cast<std::size_t>(got));
    if (text.size() > kTextMax) return false;
  }
}

PluginDescription from(const protocol::Description& told) {
  PluginDescription result;
  result.name = told.name;
  result.is_channel = told.is_channel;
  result.network = told.network;
  result.levels = told.levels;
  result.also_actuator = told.is_channel && told.is_actuator;
  result.has_will = told.has_will;
  for (const protocol::OptionRow& row : told.options) {
    result.options.push_back({row.name, row.type, row.range, row.fallback, row.help});
  }
  return result;
}

}  // namespace

Result<PluginDescription> describe_plugin(const std::string& host_program,
                                          const std::string& path) {
  int pipe[2] = {-1, -1};
  if (::pipe2(pipe, O_CLOEXEC) != 0) return Error{ErrorCode::broken, path + ": no pipe"};
  const Result<pid_t> pid =
      spawn_with(host_program, {host_program, "--describe", path}, {}, pipe[1]);
  ::close(pipe[1]);
  if (!pid) {
    ::close(pipe[0]);
    return pid.error();
  }
  std::string text;
  const bool whole = read_to_end(pipe[0], text);
  ::close(pipe[0]);
  if (!whole) ::kill(*pid, SIGKILL);
  int status = 0;
  while (::waitpid(*pid, &status, 0) < 0 && errno == EINTR) continue;
  if (!whole) return Error{ErrorCode::timed_out, path + ": does not describe itself within 5 s"};
  if (!WIFEXITED(status) || WEXITSTATUS(status) != protocol::kExitDone) {
    return Error{ErrorCode::broken, path + ": cannot be loaded as a plugin"};
  }
  const Result<protocol::Description> told = protocol::decode_description(text);
  if (!told) return Error{ErrorCode::broken, path + ": " + told.error().text};
  return from(*told);
}

PluginCatalogue describe_all(const std::string& plugin_folder, const std::string& host_program,
                             std::vector<std::string>* problems) {
  const auto problem = [problems](std::string text) {
    if (problems != nullptr) problems->push_back(std::move(text));
  };
  PluginCatalogue catalogue;
  std::error_code error;
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(plugin_folder, error)) {
    if (entry.path().extension() == ".so") files.push_back(entry.path());
  }
  if (error) problem(plugin_folder + ": " + error.message());
  std::sort(files.begin(), files.end());
  for (const std::filesystem::path& file : files) {
    Result<PluginDescription> plugin = describe_plugin(host_program, file.string());
    if (!plugin) {
      problem(plugin.error().text);
    } else if (plugin->name != file.stem().string()) {
      // A driver is found by its file's name; two names for one would be a riddle.
      problem(file.string() + ": calls itself '" + plugin->name + "'; its file must be named so");
    } else {
      catalogue[plugin->name] = std::move(plugin.value());
    }
  }
  return catalogue;
}

}  // namespace tubwarden
