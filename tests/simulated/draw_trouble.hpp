// What goes wrong in a drawn world, and the hands that reach into it. Threading: one test thread.
// Failure: none.
#pragma once

#include "rehearsal/dice.hpp"
#include "rehearsal/world.hpp"

namespace tubwarden::rehearsal {

Duration time_between(Dice& dice, Duration low, Duration high);

/// Adds faults and hands to a plan whose chamber is drawn.
void draw_trouble(Dice& dice, WorldPlan& plan, Duration length);

}  // namespace tubwarden::rehearsal
