#include "core/alert/alert.hpp"

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(AlertRank rank) {
  switch (rank) {
    case AlertRank::now:
      return "now";
    case AlertRank::today:
      return "today";
    case AlertRank::noted:
      return "noted";
  }
  ENSURE(false);
}

std::optional<AlertRank> rank_named(std::string_view name) {
  for (AlertRank rank : {AlertRank::now, AlertRank::today, AlertRank::noted}) {
    if (name_of(rank) == name) return rank;
  }
  return std::nullopt;
}

AlertTimer::Change AlertTimer::judge(bool holds, Duration on_delay, Duration off_delay,
                                     Instant now) {
  if (holds != holds_) {
    holds_ = holds;
    changed_ = now;
    if (holds && !raised_) since_ = now;
  }
  due_.reset();
  if (holds_ == raised_) return Change::none;
  const Instant due = changed_ + (holds_ ? on_delay : off_delay);
  if (now < due) {
    due_ = due;
    return Change::none;
  }
  raised_ = holds_;
  return raised_ ? Change::raised : Change::returned;
}

}  // namespace tubwarden
