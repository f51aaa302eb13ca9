#include "core/climate/next_watch.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"

namespace tubwarden {
namespace {

bool holds(const NextCondition& condition, const NextWatch::Value& seen) {
  if (condition.above && seen.value <= *condition.above) return false;
  if (condition.below && (seen.at_least || seen.value >= *condition.below)) return false;
  return true;
}

std::string limits_text(const NextCondition& condition, Quantity q) {
  const auto limit = [&](double value) {
    return trimmed(value, q == Quantity::co2 ? 0 : 1) + " " + std::string(unit_of(q));
  };
  if (condition.below && condition.above) {
    return fmt::format("between {} and {}", limit(*condition.above), limit(*condition.below));
  }
  return condition.below ? "below " + limit(*condition.below)
                         : "above " + limit(condition.above.value_or(0.0));
}

}  // namespace

NextWatch::Verdict NextWatch::judge(const NextPlan& plan, Instant phase_began, const Values& values,
                                    Instant now) {
  if (now - judged_ > kNextGap) interrupt();
  judged_ = now;
  if (!plan.judged()) return {};
  bool all = true;
  std::optional<Instant> latest;
  const auto until = [&](Instant at) {
    if (now >= at) return;
    all = false;
    latest = std::max(latest.value_or(at), at);
  };
  bool open = false;  // a reading has to change first
  for (std::size_t q = 0; q < kQuantities; ++q) {
    if (!plan.when[q]) continue;
    if (!values[q] || !holds(*plan.when[q], *values[q])) {
      holding_[q].reset();
      all = false;
      open = true;
      continue;
    }
    if (!holding_[q]) holding_[q] = now;
    until(*holding_[q] + plan.when[q]->lasting);
  }
  if (plan.after) until(phase_began + *plan.after);
  due_ = due_ || all;
  return {due_, due_ || open ? std::nullopt : latest};
}

std::string told(const NextPlan& plan, Duration lasted) {
  std::string text;
  if (plan.after) text = fmt::format("it has lasted {}", spoken(lasted));
  for (Quantity q : kAllQuantities) {
    const auto& condition = plan.when[index_of(q)];
    if (!condition) continue;
    text += fmt::format("{}its {} has been {} for {}", text.empty() ? "" : ", and ", word_of(q),
                        limits_text(*condition, q), spoken(condition->lasting));
  }
  return text;
}

}  // namespace tubwarden
