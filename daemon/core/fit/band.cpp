#include "core/fit/band.hpp"

namespace tubwarden::fit {
namespace {

/// A hair of room, so that 25.5 - 24 is not narrower than twice 0.75.
constexpr double kHair = 1e-9;

}  // namespace

Telling telling(const Band& band, double accuracy) {
  if (band.width() < accuracy - kHair) return Telling::blind;
  return band.width() < 2.0 * accuracy - kHair ? Telling::doubtful : Telling::tells;
}

Ceiling ceiling_over(const Band& substrate, double ceiling_c) {
  if (ceiling_c <= substrate.middle()) return Ceiling::locks;
  return ceiling_c < substrate.high ? Ceiling::above_middle : Ceiling::clear;
}

}  // namespace tubwarden::fit
