// The tub of the figures, drawn: what the controller is told stands fixed, what the model is
// differs from set to set within ranges.yaml. Threading: plain values. Failure: a file that lacks a
// row, or says it wrongly, throws std::runtime_error with the row's name.
#pragma once

#include <string>
#include <vector>

#include "rehearsal/world.hpp"

namespace tubwarden::bench {

struct Range {
  std::string name;
  double low = 0.0, high = 0.0;
  bool log = false;
};

struct Limits {
  RunLimits mister, fan;
};

struct Told {
  double net_air_l, mister_g_h, fan_m3_h, substrate_kg, room_celsius, room_humidity_pct;
  Band humidity;
  double co2_below_ppm;
  FreshAirFloor floor;
  Duration reading_each{0};
  Limits limits, wide;
};

struct Ranges {
  std::uint64_t seed = 1;
  int sets = 0;
  Told told;
  rehearsal::StartAir start;
  std::vector<Range> draws;
  double coarse_step_pct = 1.0;
  Duration coarse_each{0};
};
Ranges read_ranges(const std::string& file);

struct Asked {
  rehearsal::Load load = rehearsal::Load::empty;
  Control control = Control::portions;
  bool coarse = false;
  bool wide = false;
  int set = 0;
};
rehearsal::WorldPlan tub_of(const Ranges& ranges, const Asked& asked);

}  // namespace tubwarden::bench
