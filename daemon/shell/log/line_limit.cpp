#include "shell/log/line_limit.hpp"

#include <algorithm>

namespace tubwarden::log {

LineLimit::Verdict LineLimit::judge(std::string_view line, Instant now) {
  auto found = seen_.find(line);
  if (found != seen_.end() && now - found->second.since < kWindow &&
      found->second.count >= kSameMax) {
    ++found->second.count;
    return Verdict::repeated;
  }
  if (!take_token(now)) return Verdict::dropped;
  if (found == seen_.end()) {
    if (seen_.size() >= kWatchedMax) return Verdict::write;
    found = seen_.emplace(std::string(line), Seen{now}).first;
    next_over_ = std::min(next_over_, now + kWindow);
  }
  ++found->second.count;
  return Verdict::write;
}

std::vector<std::string> LineLimit::over(Instant now, bool all) {
  std::vector<std::string> told;
  if (!all && now < next_over_) return told;
  next_over_ = Instant::max();
  for (auto it = seen_.begin(); it != seen_.end();) {
    const Instant end = it->second.since + kWindow;
    if (!all && now < end) {
      next_over_ = std::min(next_over_, end);
      ++it;
      continue;
    }
    if (it->second.count > kSameMax) {
      told.push_back("(" + std::to_string(it->second.count - kSameMax) +
                     " more times: " + it->first + ")");
    }
    it = seen_.erase(it);
  }
  return told;
}

bool LineLimit::take_token(Instant now) {
  tokens_ = std::min(kBurst, tokens_ + kPerSecond * seconds_of(now - std::max(filled_, Instant{})));
  filled_ = now;
  if (tokens_ < 1) return false;
  tokens_ -= 1;
  return true;
}

}  // namespace tubwarden::log
