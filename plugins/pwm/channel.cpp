#include "pwm/channel.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <charconv>
#include <cstring>
#include <thread>
#include <vector>

namespace tubwarden::pwm {

namespace {

namespace fs = std::filesystem;
using Steady = std::chrono::steady_clock;

constexpr std::chrono::milliseconds kLookEach{2};

Error broken(const fs::path& path, int error) {
  return {ErrorCode::unavailable, path.string() + ": " + std::strerror(error)};
}

Result<std::string> read_text(const fs::path& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) return broken(path, errno);
  std::array<char, 64> text{};
  const ssize_t size = ::read(file, text.data(), text.size());
  const int error = errno;
  ::close(file);
  if (size < 0) return broken(path, error);
  std::string_view all(text.data(), static_cast<std::size_t>(size));
  while (!all.empty() && (all.back() == '\n' || all.back() == ' ')) all.remove_suffix(1);
  return std::string(all);
}

/// One write: to the kernel each is an order of its own. 0, or errno.
int write_text(const fs::path& path, const std::string& text) {
  const int file = ::open(path.c_str(), O_WRONLY | O_TRUNC | O_CLOEXEC);
  if (file < 0) return errno;
  const ssize_t wrote = ::write(file, text.data(), text.size());
  const int error = wrote == static_cast<ssize_t>(text.size()) ? 0 : wrote < 0 ? errno : EIO;
  ::close(file);
  return error;
}

Result<std::uint64_t> read_count(const fs::path& path) {
  const auto text = read_text(path);
  if (!text) return text.error();
  std::uint64_t value = 0;
  const char* const end = text->data() + text->size();
  const auto [rest, error] = std::from_chars(text->data(), end, value);
  if (error != std::errc() || rest != end) {
    return Error{ErrorCode::unavailable, path.string() + " says '" + *text + "', not a number"};
  }
  return value;
}

std::string device_of(const fs::path& chip) {
  std::error_code error;
  return fs::read_symlink(chip / "device", error).filename().string();
}

/// Chips are counted at each boot; their devices keep their names.
Result<fs::path> find_chip(const ChannelWiring& wiring) {
  std::vector<fs::path> found;
  std::vector<std::string> there;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(wiring.root, error)) {
    const std::string name = entry.path().filename().string(), device = device_of(entry.path());
    if (name.rfind("pwmchip", 0) != 0) continue;
    there.push_back(device.empty() ? name : name + " '" + device + "'");
    if (name == wiring.chip || device == wiring.chip) found.push_back(entry.path());
  }
  std::sort(there.begin(), there.end());
  std::string told;
  for (const std::string& chip : there) told += (told.empty() ? "there are: " : ", ") + chip;
  if (there.empty()) told = wiring.root + " shows no PWM chip";
  if (found.size() == 1) return found[0];
  if (found.empty()) {
    return Error{ErrorCode::not_found, "no chip is '" + wiring.chip + "'; " + told};
  }
  return Error{ErrorCode::bad_input,
               "more than one chip is '" + wiring.chip + "': give chip by its name; " + told};
}

bool is_writable(const fs::path& folder) {
  for (const char* file : {"period", "duty_cycle", "enable"}) {
    if (::access((folder / file).c_str(), R_OK | W_OK) != 0) return false;
  }
  return true;
}

Result<fs::path> export_channel(const fs::path& chip, unsigned channel,
                                std::chrono::milliseconds patience) {
  const fs::path folder = chip / ("pwm" + std::to_string(channel));
  std::error_code ignored;
  if (!fs::exists(folder, ignored)) {
    const int error = write_text(chip / "export", std::to_string(channel));
    if (error == EBUSY) {
      return Error{ErrorCode::unavailable, (chip / "export").string() + ": channel " +
                                               std::to_string(channel) +
                                               " is in use by a driver of the kernel"};
    }
    if (error != 0) return broken(chip / "export", error);
  }
  const auto deadline = Steady::now() + patience;
  while (!is_writable(folder)) {
    if (Steady::now() >= deadline) {
      for (const char* file : {"period", "duty_cycle", "enable"}) {
        if (::access((folder / file).c_str(), R_OK | W_OK) != 0)
          return broken(folder / file, errno);
      }
    }
    std::this_thread::sleep_for(kLookEach);
  }
  return folder;
}

}  // namespace

Result<std::unique_ptr<Channel>> Channel::take(const ChannelWiring& wiring,
                                               std::chrono::milliseconds patience) {
  const auto chip = find_chip(wiring);
  if (!chip) return chip.error();
  const auto count = read_count(*chip / "npwm");
  if (!count) return count.error();
  if (wiring.channel >= *count) {
    return Error{ErrorCode::bad_input, "channel is " + std::to_string(wiring.channel) + "; " +
                                           chip->filename().string() + " has " +
                                           std::to_string(*count) + ", counted from 0"};
  }
  const auto folder = export_channel(*chip, wiring.channel, patience);
  if (!folder) return folder.error();
  const int lock = ::open(folder->c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (lock < 0) return broken(*folder, errno);
  // A lock that ends with its process, however that ends.
  if (::flock(lock, LOCK_EX | LOCK_NB) != 0) {
    const int error = errno;
    ::close(lock);
    if (error != EWOULDBLOCK) return broken(*folder, error);
    return Error{ErrorCode::unavailable, folder->string() + " is switched by another output"};
  }
  return std::unique_ptr<Channel>(new Channel(*folder, lock));
}

Channel::~Channel() { ::close(lock_); }

bool Channel::is_there() const { return ::access((folder_ / "enable").c_str(), F_OK) == 0; }

Result<Signal> Channel::read() const {
  const auto enabled = read_count(folder_ / "enable"), period = read_count(folder_ / "period"),
             duty = read_count(folder_ / "duty_cycle");
  for (const auto* value : {&enabled, &period, &duty}) {
    if (!*value) return value->error();
  }
  // Old kernels have no such file for a chip that cannot invert.
  const auto polarity = read_text(folder_ / "polarity");
  return Signal{*enabled != 0, *period, *duty, polarity && *polarity == "inversed"};
}

std::optional<std::string> Channel::set(const Signal& to) {
  const auto now = read();
  if (!now) return now.error().text;
  for (const Write& write : writes(*now, to)) {
    const fs::path path = folder_ / write.file;
    const int error = write_text(path, write.text);
    if (error == 0) continue;
    std::string why = path.string() + ": '" + write.text + "': " + std::strerror(error);
    if (write.file == "polarity") why += " (this chip may not be able to invert)";
    return why;
  }
  return std::nullopt;
}

}  // namespace tubwarden::pwm
