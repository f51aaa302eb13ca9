#include "core/sensing/agreement.hpp"

#include <algorithm>
#include <array>

namespace tubwarden {
namespace {

/// How far two voices are apart beyond what "at least" leaves open.
double apart(const Voice& a, const Voice& b) {
  if (a.at_least && b.at_least) return 0.0;
  if (a.at_least && b.value >= a.value) return 0.0;
  if (b.at_least && a.value >= b.value) return 0.0;
  return a.value > b.value ? a.value - b.value : b.value - a.value;
}

bool agree(const Voice& a, const Voice& b) { return apart(a, b) <= a.accuracy + b.accuracy; }

}  // namespace

void find_outliers(std::span<Voice> voices) {
  const std::size_t count = std::min(voices.size(), kVoicesMax);
  for (Voice& voice : voices) voice.out = false;
  if (count < 2) return;
  std::array<std::size_t, kVoicesMax> agreeing{};
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t j = 0; j < count; ++j) {
      if (i != j && agree(voices[i], voices[j])) ++agreeing[i];
    }
  }
  // Two against two: nobody knows better, and all four are out.
  for (std::size_t i = 0; i < count; ++i) voices[i].out = 2 * agreeing[i] < count - 1;
}

void AgreementTimer::judge(bool out, Instant now) {
  if (!out) {
    since_.reset();
  } else if (!since_) {
    since_ = now;
  }
}

std::optional<Instant> AgreementTimer::due() const {
  if (!since_) return std::nullopt;
  return *since_ + kDisagreeAfter;
}

}  // namespace tubwarden
