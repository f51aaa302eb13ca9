// How much of a flood of lines the log takes: of the same line a few a minute, the rest counted; of
// all lines a burst, and then a trickle. Threading: one at a time; the log locks. Failure: none.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "base/time.hpp"

namespace tubwarden::log {

class LineLimit {
 public:
  static constexpr Duration kWindow = minutes(1);
  static constexpr std::uint32_t kSameMax = 5;  ///< of one line in a window
  static constexpr std::size_t kWatchedMax =
      256;  ///< lines told apart; beyond it by the burst only
  static constexpr double kBurst = 1000;
  static constexpr double kPerSecond = 2;

  enum class Verdict {
    write,
    repeated,  ///< counted, and told by over()
    dropped,   ///< beyond the trickle
  };
  Verdict judge(std::string_view line, Instant now);

  /// "(N more times: LINE)" for each line whose window is over; all of them when `all`.
  std::vector<std::string> over(Instant now, bool all = false);

 private:
  struct Seen {
    Instant since;
    std::uint32_t count = 0;
  };
  struct Hash {
    using is_transparent = void;
    std::size_t operator()(std::string_view s) const { return std::hash<std::string_view>()(s); }
  };
  bool take_token(Instant now);

  std::unordered_map<std::string, Seen, Hash, std::equal_to<>> seen_;
  Instant next_over_ = Instant::max();
  double tokens_ = kBurst;
  Instant filled_{};
};

}  // namespace tubwarden::log
