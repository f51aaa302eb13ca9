// The judges of the fit check: one air in one phase, and what each sum says of it.
// For the files of this room only. Threading: pure. Failure: none.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/fit/water.hpp"
#include "settings/fit.hpp"

namespace tubwarden::fit {

/// The room a sum is made with where the configuration has a sensor there, or nothing: the
/// usual one of docs/model.md.
inline constexpr Moist kUsualRoom = {{20.0}, {50.0}};
/// Where a phase keeps no temperature, and the room's is not fixed.
inline constexpr Celsius kUsualAir = {18.0};
/// A room that a heater is to cope with where the room's temperature is not fixed (a choice: a
/// cool cellar).
inline constexpr double kCoolRoomC = 10.0;
/// How late a sensor of humidity answers (makers' usual data, no source; the model's lag).
inline constexpr Duration kSensorLate = seconds(8);

/// A sum of assumed figures is not trusted further than by this factor: within, it is tight.
inline constexpr double kTrust = 1.25;

struct Room {
  Moist moist = kUsualRoom;
  bool temperature_fixed = false;
  bool humidity_fixed = false;
  Ppm co2{kOutdoorCo2Ppm};
  bool fixed() const { return temperature_fixed && humidity_fixed; }
};
Room room_of(const RoomPlan& plan);

/// One air in one phase.
struct PhaseAir {
  const ChamberPlan& chamber;
  const PhasePlan& phase;
  Room room;
  Litres air;
  Celsius t;
  std::optional<double> substrate_kg;  ///< of all that stands in it; nothing where a mass is open
  double mushrooms_kg = 0;             ///< of a full flush, where the phase has one
  int tubs = 0;                        ///< with substrate
  bool own_air = false;                ///< one tub's own: its heater is a mat under it
  std::vector<const ActuatorPlan*> with(Effect effect) const;
  /// The band in which the phase keeps `q`; `keep_below` begins at the room's value.
  std::optional<Band> band(Quantity q) const;
  /// The air in the middle of the humidity band.
  std::optional<Moist> kept() const;
  /// A wet casing lies in it.
  bool cased() const;
};

/// The temperature that the phase keeps, and how far it stands over the air by itself.
struct KeptTemperature {
  Quantity quantity;
  Band band;
  double above_min = 0, above_max = 0;
};
std::optional<KeptTemperature> kept_temperature(const PhaseAir& air);
/// "air temperature 15..18 C"
std::string kept_words(const PhaseAir& air, const KeptTemperature& kept);

struct Judged {
  FitAbout about;
  std::string subject;  ///< the part it judges; with `about` the key by which phases are joined
  FitMark mark;
  double strain;  ///< of the same mark the highest is told
  std::string text;
};
using Verdicts = std::vector<Judged>;

void judge_mist(const PhaseAir& air, Verdicts& out);
void judge_water(const PhaseAir& air, Verdicts& out);
/// Whether anything raises the humidity kept, and whether anything lowers it.
void judge_means(const PhaseAir& air, Verdicts& out);
void judge_fan(const PhaseAir& air, Verdicts& out);
void judge_breath(const PhaseAir& air, Verdicts& out);
void judge_heat(const PhaseAir& air, Verdicts& out);
void judge_sensors(const PhaseAir& air, Verdicts& out);
/// `tub`'s ceiling over the bands of the air it stands in.
void judge_ceiling(const PhaseAir& air, const TubPlan& tub, Verdicts& out);

/// The fresh air that a phase asks for, m3/h as a mean, and which rule asks.
struct AirAsked {
  double m3_h = 0;
  std::string by;  ///< "the floor", "CO2"
};
AirAsked air_asked(const PhaseAir& air);

// Words. Two figures that count; a bound is rounded to its safe side.
std::string figure(double value);
std::string at_most(double value);
std::string at_least(double value);
/// As the configuration writes it.
std::string time_words(Duration d);
std::string time_at_most(Duration d);
std::string time_at_least(Duration d);
std::string band_words(const PhaseAir& air, Quantity q);
/// "a room of 20 C and 50 %", "an assumed room of ..." where it is not fixed.
std::string room_words(const Room& room);
std::string ids(const std::vector<const ActuatorPlan*>& parts);

}  // namespace tubwarden::fit
