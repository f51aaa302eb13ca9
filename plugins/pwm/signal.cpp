#include "pwm/signal.hpp"

#include <algorithm>
#include <cmath>

namespace tubwarden::pwm {

namespace {

constexpr std::uint32_t kFull = 1000;

Write duty(const Signal& to) { return {"duty_cycle", std::to_string(to.duty_ns)}; }

}  // namespace

Signal signal_at(std::uint32_t permille, double hz, bool inversed) {
  const auto period = static_cast<std::uint64_t>(std::llround(1e9 / hz));
  return {true, period, period * std::min(permille, kFull) / kFull, inversed};
}

std::vector<Write> writes(const Signal& from, const Signal& to) {
  std::vector<Write> all;
  const bool turns = from.inversed != to.inversed;
  const bool stops = turns && from.enabled;
  if (stops) all.push_back({"enable", "0"});
  const bool duty_first = from.duty_ns > to.period_ns;
  if (duty_first) all.push_back(duty(to));
  if (from.period_ns != to.period_ns) all.push_back({"period", std::to_string(to.period_ns)});
  if (turns) all.push_back({"polarity", to.inversed ? "inversed" : "normal"});
  if (!duty_first && from.duty_ns != to.duty_ns) all.push_back(duty(to));
  if (stops || !from.enabled) all.push_back({"enable", "1"});
  return all;
}

}  // namespace tubwarden::pwm
