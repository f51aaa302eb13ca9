#include "sdk/safe_list.hpp"

#include <algorithm>

namespace tubwarden::protocol {

namespace {

constexpr std::string_view kEnd = "end ";

void add(std::vector<SafeRun>& runs, SafeRun line) {
  const auto same = std::find_if(runs.begin(), runs.end(), [&](const SafeRun& run) {
    return run.plugin_path == line.plugin_path;
  });
  if (same == runs.end()) return runs.push_back(std::move(line));
  for (Open& output : line.outputs) {
    // One output as it was and as it is now: opened twice, one would take the hardware from the
    // other.
    std::erase_if(same->outputs, [&](const Open& older) {
      return older.id == output.id && older.wiring_json == output.wiring_json;
    });
    same->outputs.push_back(std::move(output));
  }
}

}  // namespace

std::string encode_safe_list(const std::vector<SafeRun>& runs) {
  std::string text;
  std::size_t lines = 0;
  for (const SafeRun& run : runs) {
    for (const Open& output : run.outputs) {
      text += encode(SafeRun{run.plugin_path, {output}}) + "\n";
      ++lines;
    }
  }
  return text + std::string(kEnd) + std::to_string(lines) + "\n";
}

SafeList decode_safe_list(std::string_view text) {
  SafeList list;
  std::size_t number = 0;
  std::string last;
  while (!text.empty()) {
    const std::size_t length = text.find('\n');
    const std::string_view line = text.substr(0, length);
    text.remove_prefix(std::min(text.size(), line.size() + 1));
    last = line;
    if (line.starts_with(kEnd)) break;
    ++number;
    Result<SafeRun> run = decode_safe_run(line);
    if (run) {
      add(list.runs, std::move(run.value()));
    } else {
      list.problems.push_back("line " + std::to_string(number) + ": " + run.error().text);
    }
  }
  if (last != std::string(kEnd) + std::to_string(number)) {
    list.problems.push_back("it is cut off after line " + std::to_string(number) +
                            ": more outputs may have been in use");
  }
  return list;
}

}  // namespace tubwarden::protocol
