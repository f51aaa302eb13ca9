// The list of all outputs that may be in use, for the stop-post step of the service.
#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>

#include "sdk/safe_list.hpp"
#include "shell/hosts/drivers_state.hpp"

namespace tubwarden {

namespace {
/// Nothing when it stands under its name, whole: a reader finds the old list or the new one.
std::string replace_file(const std::string& path, const std::string& text) {
  const std::string fresh = path + ".new";
  const int file = ::open(fresh.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
  if (file < 0) return fresh + ": " + std::strerror(errno);
  const bool wrote = ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size());
  const int error = errno;
  ::close(file);
  if (!wrote) return fresh + ": " + std::strerror(error);
  if (::rename(fresh.c_str(), path.c_str()) != 0) return path + ": " + std::strerror(errno);
  return "";
}
}  // namespace

protocol::Open HostDrivers::Impl::listed(const OutputPlan& plan) const {
  DriverOutput output;
  output.plan = plan;
  return open_message(output);
}

void HostDrivers::Impl::keep_list() {
  if (options.safe_list.empty()) return;
  std::vector<protocol::SafeRun> runs;
  for (const auto& [id, run] : safe_runs) runs.push_back(run.spec);
  for (const auto& [key, group] : groups) {
    protocol::SafeRun& run = runs.emplace_back(protocol::SafeRun{plugin_path(group.plugin), {}});
    for (const auto& [number, output] : group.outputs) run.outputs.push_back(open_message(output));
  }
  for (const OutputPlan& plan : wanted) {
    DriverOutput* present = nullptr;
    if (group_of(plan.id, &present) != nullptr) continue;
    runs.push_back({plugin_path(plan.driver), {listed(plan)}});
  }
  write_list(protocol::encode_safe_list(runs));
}

void HostDrivers::Impl::write_list(const std::string& text) {
  if (options.safe_list.empty() || text == list_written) return;
  const std::string error = text.size() > protocol::kSafeListBytesMax
                                ? "it would be longer than 1 MiB"
                                : replace_file(options.safe_list, text);
  if (error.empty()) {
    list_written = text;
    return;
  }
  say(HostWord::error,
      "the list of outputs for the service's stop-post step cannot be kept: " + error);
}

}  // namespace tubwarden
