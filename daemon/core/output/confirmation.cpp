#include "core/output/confirmation.hpp"

namespace tubwarden {

Level Confirmation::expected(Instant now) const {
  return run_end_ && *run_end_ <= now ? kRest : told_.value_or(kRest);
}

void Confirmation::commanded(Level level, Duration run, Instant now) {
  told_ = level;
  run_end_.reset();
  if (run > Duration{0} && level != kRest) run_end_ = now + run;
  if (deadline_) return;
  if (last_ != level) {
    deadline_ = now + kLimit;
  } else if (run_end_) {
    deadline_ = *run_end_ + kLimit;  // it runs already: only the rest at the end is news
  }
}

void Confirmation::heard(Level level, Instant now) {
  last_ = level;
  if (!told_) return;
  if (level != expected(now)) {
    if (!deadline_) deadline_ = now + kLimit;
    return;
  }
  deadline_.reset();
  if (run_end_ && *run_end_ > now) deadline_ = *run_end_ + kLimit;
}

void Confirmation::fell(Level safe, Instant now) { commanded(safe, Duration{0}, now); }

void Confirmation::forget() {
  told_.reset();
  run_end_.reset();
  deadline_.reset();
}

}  // namespace tubwarden
