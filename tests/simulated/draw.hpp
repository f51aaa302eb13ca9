// Draws a world from a seed: a chamber, its plan of phases, its limits, its load and what goes
// wrong. Threading: one test thread. Failure: none; what is drawn is what settings would let pass.
#pragma once

#include <cstdint>
#include <string>

#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {

/// The same seed draws the same world on every machine.
WorldPlan draw_world(std::uint64_t seed, Duration length);

/// What was drawn, in a few lines, for a failing seed.
std::string told(const WorldPlan& plan);

}  // namespace tubwarden::rehearsal
