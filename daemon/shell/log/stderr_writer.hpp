// Where the log's lines leave: stderr, never waited for longer than a second in a row.
// Threading: the log's writer thread. Failure: a line that stderr does not take is lost and
// counted.
#pragma once

#include <cstdint>
#include <string_view>

namespace tubwarden::log {

class StderrWriter {
 public:
  /// Longer lines are cut: a pipe takes this much whole, or not at all.
  static constexpr std::size_t kLineBytesMax = 4096;

  /// One line, its line break included. False: lost.
  bool write(std::string_view line);

 private:
  bool stuck_ = false;
};

}  // namespace tubwarden::log
