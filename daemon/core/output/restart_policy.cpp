#include "core/output/restart_policy.hpp"

namespace tubwarden {

RestartPolicy::Verdict RestartPolicy::crashed(Instant now) {
  ++total_;
  if (failed_safe_) return {true, Duration{0}};
  while (!recent_.empty() && now - recent_.front() >= kWindow) recent_.pop_front();
  recent_.push_back(now);
  if (static_cast<int>(recent_.size()) >= kCrashesMax) {
    failed_safe_ = true;
    return {true, Duration{0}};
  }
  return {false, recent_.size() == 1 ? kFirstBackoff : kSecondBackoff};
}

void RestartPolicy::acknowledge() {
  failed_safe_ = false;
  recent_.clear();
}

}  // namespace tubwarden
