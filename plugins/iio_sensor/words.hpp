// The words of tubwarden-iio-sensor's command line. Threading: pure functions, but for the user
// file. Failure: an error that names the word and what is allowed.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::iio {

enum class Task { publish, list, help };

struct Words {
  Task task = Task::publish;
  std::string broker, topic, device;
  std::string root = "/sys/bus/iio/devices";
  std::chrono::milliseconds every{5000};
  std::chrono::milliseconds patience{60000};  ///< for one quantity; some drivers wait for a new one
  std::optional<std::string> user_file, ca_file, cert_file, key_file;
  /// Where it says whether it is there: the will's topic.
  std::string state_topic() const { return topic + "/state"; }
};

inline constexpr const char* kHere = "here";
inline constexpr const char* kGone = "gone";

Result<Words> read_words(const std::vector<std::string>& argv);

/// The page of --help.
std::string help_page();

}  // namespace tubwarden::iio
