// Runs the grower's own program to its end: no shell, a clean environment, no descriptor of ours.
// Threading: any one thread; blocks up to its limit. Failure: a sentence that says how it ended.
#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace tubwarden::program {

/// `argv` begins with a full path; `message` goes to its stdin. Its environment is PATH, LANG and
/// `variables` ("NAME=value"). stdout is dropped, of stderr the beginning is told. After `limit` it
/// is killed, with what it started. Nothing: exit code 0.
std::optional<std::string> run(const std::vector<std::string>& argv, std::string_view message,
                               const std::vector<std::string>& variables,
                               std::chrono::milliseconds limit);

}  // namespace tubwarden::program
