// The water book of one air: what fan and leak carried out of it, what its misters gave, and so
// what the casings in it gave up; how long each output ran, by the hour. It only adds up what it is
// told. Threading: one owner, plain values. Failure: time that nobody read is counted as such and
// gives nothing.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "base/time.hpp"
#include "core/air/units.hpp"

namespace tubwarden {

/// Running sums; the difference of two moments is the account between them.
struct WaterSums {
  double covered_s = 0.0;    ///< with readings inside and in the room
  double uncovered_s = 0.0;  ///< without, and while nobody looked
  double fan_g = 0.0;        ///< water that fans carried out, net; covered time only, as all below
  double leak_g = 0.0;       ///< ... and the lid's leak
  double mist_g = 0.0;
  double dried_g = 0.0;    ///< by dehumidifiers
  double per_pct_g = 0.0;  ///< what 1 % RH of error inside makes of fan and leak
  bool operator==(const WaterSums&) const = default;
};
WaterSums operator-(const WaterSums& now, const WaterSums& then);

/// What moves water just now.
struct WaterFlow {
  double fan_m3_h = 0.0, leak_m3_h = 0.0;
  double taken_g_m3 = 0.0;    ///< that each m3 of room air takes along
  double per_pct_g_m3 = 0.0;  ///< ... and how that hangs on humidity inside
  double mist_g_h = 0.0, dried_g_h = 0.0;
  double net_m3 = 0.0;  ///< of the air; 0: mist is vapour at once
};

/// Mist hangs in the air so long before it is vapour, and what leaves meanwhile takes it along
/// (assumed, as the forecast of humidity has it).
inline constexpr double kMistHangsS = 8.0;

/// An air, or the room.
struct MoistAir {
  Celsius t;
  Percent rh;
};
/// Grams that a cubic metre of `room` air takes up until it is like `inside`:
/// rho_dry (W_inside - W_room), rho_dry = (p - e) / (287.042 J/(kg K) T), ASHRAE Fundamentals 2017
/// ch. 1. Negative where it brings water.
double taken_g_m3(const MoistAir& inside, const MoistAir& room);

/// How sure the parts of an account are, each a share but the last.
struct WaterDoubts {
  double fan = 0.4;   ///< its nominal rate: filter and grille (common practice, no source)
  double leak = 0.3;  ///< one that was measured once; 0.7 where it is assumed: lids differ so
  double mist = 0.4;  ///< its nominal rate: scale, water level and age (common practice, no source)
  double humidity_pct = 3.0;  ///< of the two sensors' difference, % RH
};

/// What the casings gave up between two moments.
struct WaterAccount {
  Duration since{0};    ///< from the first to the second
  Duration covered{0};  ///< of it, with readings
  double fan_g = 0.0, leak_g = 0.0, mist_g = 0.0, dried_g = 0.0;
  double gave_g = 0.0;   ///< fan + leak + dried - mist; below 0 they took water up
  double doubt_g = 0.0;  ///< plus or minus; the parts' errors as independent of each other
};
WaterAccount account_of(const WaterSums& between, const WaterDoubts& doubts);

/// What a tub's account counts from.
struct WaterMark {
  std::string tub;
  WaterSums at;
  double given_ml = 0.0;  ///< by the watering it counts from; 0: the casing was laid, or first seen
  bool operator==(const WaterMark&) const = default;
};

inline constexpr std::size_t kBookHours = 24;
using BookHours = std::array<double, kBookHours>;  ///< s; the newest hour first

struct OutputTime {
  std::string id;
  double run_s = 0.0;  ///< at full level; half a level counts half
  BookHours hours{};
  std::optional<double> refilled_at_s;  ///< run_s when its tank was last filled
  bool operator==(const OutputTime&) const = default;
};

/// All that a book knows, to be kept over a restart.
struct WaterBookState {
  WaterSums sums;
  std::vector<WaterMark> marks;
  std::vector<OutputTime> outputs;
  BookHours known{};    ///< time in which it was looked
  double hour_s = 0.0;  ///< of the newest hour that have passed
  bool operator==(const WaterBookState&) const = default;
};

class WaterBook {
 public:
  /// The outputs of the air, by index from now on; one that stays keeps its times.
  void outputs(const std::vector<std::string>& ids);
  /// An output ran within what pass() tells next.
  void ran(std::size_t output, double full_s) { ran_[output] += full_s; }
  /// Time has passed; nothing: what moved water is not known.
  void pass(Duration time, const std::optional<WaterFlow>& flow);
  /// A tub's account begins anew, `given_ml` of water in its casing.
  void mark(const std::string& tub, double given_ml);
  bool marked(const std::string& tub) const;
  /// A tub has left this air.
  void forget(const std::string& tub);
  void refilled(std::size_t output);

  /// What was kept `ago`, instead of what was noted since a start; nobody looked in between. Tubs
  /// that it does not know begin now.
  void restore(const WaterBookState& kept, Duration ago);
  const WaterBookState& state() const { return state_; }
  /// The account of a tub since its mark; nothing without one.
  std::optional<WaterAccount> account(const std::string& tub, const WaterDoubts& doubts) const;
  const WaterMark* mark_of(const std::string& tub) const;
  const OutputTime& output(std::size_t i) const { return state_.outputs[i]; }
  /// s of the last day: at full level, and looked at.
  double day_s(std::size_t output) const;
  double day_known_s() const;

 private:
  void roll(double s);
  double carried_off(double s, const WaterFlow& flow);
  WaterBookState state_;
  std::vector<double> ran_;
  double hanging_g_ = 0.0;  ///< mist that is not vapour yet
};

}  // namespace tubwarden
