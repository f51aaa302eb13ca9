// A clock that stands until it is moved.
#pragma once

#include "ports/clock.hpp"

class StandingClock : public tubwarden::Clock {
 public:
  tubwarden::Instant at{tubwarden::hours(1)};
  tubwarden::WallTime wall_at{tubwarden::hours(24 * 20000)};
  tubwarden::Instant now() const override { return at; }
  tubwarden::WallTime wall() const override { return wall_at; }
  bool wall_is_set() const override { return true; }
  std::string boot_id() const override { return "test"; }
  int local_second_of_day() const override { return 0; }
};
