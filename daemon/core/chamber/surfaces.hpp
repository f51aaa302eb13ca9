// What a chamber knows of its surfaces: dew on bed and lid, and how long they have been wet.
// Private to core/chamber. Threading: one owner. Failure: none.
#pragma once

#include <optional>

#include "core/alert/alert.hpp"
#include "core/climate/surfaces.hpp"

namespace tubwarden {

struct Surfaces {
  /// What they were last judged by; usable readings only.
  struct Seen {
    std::optional<double> humidity, air_c, bed_c, room_c;
    bool operator==(const Seen&) const = default;
  };
  Seen seen;
  DewGuard bed, lid;
  std::optional<double> dew_c, lid_c;  ///< while dew falls somewhere
  std::optional<Pascal> deficit;       ///< at the coldest of air and bed
  SurfaceFilm film;
  AlertTimer wet_alert;
};

}  // namespace tubwarden
