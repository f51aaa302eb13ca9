#include "rehearsal/model.hpp"

#include <algorithm>
#include <boost/numeric/odeint/algebra/array_algebra.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta4.hpp>
#include <cmath>
#include <deque>
#include <functional>

#include "base/ensure.hpp"
#include "core/air/psychrometrics.hpp"
#include "rehearsal/physics.hpp"

namespace tubwarden::rehearsal {
namespace {

namespace odeint = boost::numeric::odeint;
using Stepper = odeint::runge_kutta4<ModelState, double, ModelState, double, odeint::array_algebra>;

constexpr double kDryAirGasConstant = 287.042;  // J/(kg K), ASHRAE 2017 ch. 1
constexpr double kKelvin = 273.15;
constexpr int kCutsMax = 1000;

double dry_air_of(const TubParameters& tub, const StartAir& start) {
  ENSURE(tub.net_air_l > 0.0);
  const double e = vapour_pressure(Celsius{start.celsius}, Percent{start.humidity_pct}).value;
  return (kSeaLevel.value - e) * tub.net_air_l /
         (kDryAirGasConstant * (start.celsius + kKelvin));  // L and kg: grams
}

/// First-order lag, exact for a truth that moves in a straight line between two steps; shown a dead
/// time later.
class Lag {
 public:
  explicit Lag(const SensorTrait& trait) : lag_s_(trait.lag_s), dead_s_(trait.dead_s) {}
  void start(double truth) {
    shown_ = truth_ = truth;
    if (dead_s_ > 0.0) past_.assign(1, {0.0, truth});
  }
  void follow(double truth, double passed_s) {
    approach(truth, passed_s);
    if (dead_s_ <= 0.0) return;
    t_ += passed_s;
    past_.push_back({t_, shown_});
    while (past_.size() > 1 && past_[1].t <= t_ - dead_s_) past_.pop_front();
  }
  double shown() const {
    if (dead_s_ <= 0.0) return shown_;
    const double asked = t_ - dead_s_;
    const Past& a = past_.front();
    if (past_.size() == 1 || asked <= a.t) return a.value;
    const Past& b = past_[1];
    return a.value + (b.value - a.value) * (asked - a.t) / (b.t - a.t);
  }

 private:
  struct Past {
    double t, value;
  };

  void approach(double truth, double passed_s) {
    if (lag_s_ <= 0.0) {
      shown_ = truth_ = truth;
      return;
    }
    if (passed_s != known_s_) {
      known_s_ = passed_s;
      lags_ = lag_s_ / passed_s;
      kept_ = std::exp(-passed_s / lag_s_);
    }
    const double behind = (truth - truth_) * lags_;
    shown_ = truth - behind + (shown_ - truth_ + behind) * kept_;
    truth_ = truth;
  }

  double lag_s_;
  double dead_s_;
  double t_ = 0.0;
  std::deque<Past> past_;
  double truth_ = 0.0;
  double shown_ = 0.0;
  double known_s_ = 0.0;  ///< the time passed that the two below are of
  double lags_ = 0.0;
  double kept_ = 1.0;
};

}  // namespace

struct ChamberModel::Impl {
  Impl(const ModelParameters& parameters, const RoomDay& day, const StartAir& start,
       const StepPlan& plan)
      : p(parameters),
        steps(plan),
        room(day, start.second_of_day),
        physics(parameters, dry_air_of(parameters.tub, start)),
        x(physics.start(start)),
        began(x),
        shown(physics.shown(x)),
        lags{Lag(p.sensors[0]), Lag(p.sensors[1]), Lag(p.sensors[2]), Lag(p.sensors[3])} {
    ENSURE(steps.step_s > 0.0 && steps.rate_step > 0.0);
    for (Quantity q : kAllQuantities) lags[index_of(q)].start(truth(q));
  }

  double truth(Quantity q) const {
    switch (q) {
      case Quantity::humidity:
        return 100.0 * shown.humidity;
      case Quantity::air_temperature:
        return shown.air_c;
      case Quantity::substrate_temperature:
        return shown.bed_c;
      case Quantity::co2:
        return ppm_from_co2_g_g(shown.co2_g_g);
    }
    ENSURE(false);
  }

  void step(double h) {
    const double rate = physics.fastest(x, shown.humidity) * h / steps.rate_step;
    const int n = rate <= 1.0 ? 1 : static_cast<int>(std::ceil(std::min(rate, double{kCutsMax})));
    const double part = h / n;
    for (int i = 0; i < n; ++i) {
      physics.room(room.at(t + part / 2.0));
      stepper.do_step(std::cref(physics), x, t, part);  // by value it would copy the tables
      t += part;
    }
    shown = physics.shown(x);
    for (Quantity q : kAllQuantities) lags[index_of(q)].follow(truth(q), h);
  }

  ModelParameters p;
  StepPlan steps;
  RoomClock room;
  Physics physics;
  Drive drive;
  double t = 0.0;
  ModelState x;
  ModelState began;
  Physics::Shown shown;  ///< of x
  std::array<Lag, kQuantities> lags;
  Stepper stepper;
};

ChamberModel::ChamberModel(const ModelParameters& parameters, const RoomDay& room,
                           const StartAir& start, const StepPlan& steps)
    : impl_(std::make_unique<Impl>(parameters, room, start, steps)) {}
ChamberModel::~ChamberModel() = default;
ChamberModel::ChamberModel(ChamberModel&&) noexcept = default;
ChamberModel& ChamberModel::operator=(ChamberModel&&) noexcept = default;

void ChamberModel::drive(const Drive& drive) {
  if (drive == impl_->drive) return;
  impl_->drive = drive;
  impl_->physics.drive(drive);
}
const Drive& ChamberModel::driven() const { return impl_->drive; }

void ChamberModel::advance(Duration passed) {
  const double whole = seconds_of(passed);
  const double step_s = impl_->steps.step_s;
  const auto steps = static_cast<std::int64_t>(whole / step_s);
  for (std::int64_t i = 0; i < steps; ++i) impl_->step(step_s);
  const double rest = whole - static_cast<double>(steps) * step_s;
  if (rest > 1e-9) impl_->step(rest);
}

double ChamberModel::lay(const Bed& bed) {
  Impl& m = *impl_;
  const ModelState before = m.x;
  const double share = bed.net_air_l / m.p.tub.net_air_l;
  ENSURE(share > 0.0);
  m.p.crop = bed.crop;
  m.p.tub.net_air_l = bed.net_air_l;
  m.physics = Physics(m.p, m.physics.dry_air_g() * share);
  m.physics.drive(m.drive);
  for (const StateIndex i : {air_j, vapour_g, fog_g, co2_g}) m.x[i] *= share;
  // A casing that is well wet by mist is not dried by a can of water.
  if (bed.watered) m.x[casing_g] = std::max(before[casing_g], bed.crop.casing_water_g);
  if (bed.crop.casing_m2 <= 0.0) m.x[casing_g] = 0.0;
  m.x[bed_j] = m.physics.bed_heat_j(m.x[casing_g], m.shown.bed_c);
  for (std::size_t i = 0; i < m.x.size(); ++i) m.began[i] += m.x[i] - before[i];
  m.shown = m.physics.shown(m.x);
  return std::max(0.0, m.x[casing_g] - before[casing_g]);
}

double ChamberModel::passed_s() const { return impl_->t; }

TrueAir ChamberModel::air() const {
  const Impl& m = *impl_;
  const Physics::Temperatures now = m.physics.temperatures(m.x);
  TrueAir air;
  air.humidity_pct = 100.0 * now.humidity;
  air.celsius = now.air;
  air.substrate_c = now.bed;
  air.surface_c = now.surface;
  air.wall_c = now.wall;
  air.co2_ppm = truth(Quantity::co2);
  air.vapour_g = m.x[vapour_g];
  air.fog_g = m.x[fog_g];
  air.film_g = m.x[film_g];
  air.casing_g = m.x[casing_g];
  air.co2_g_h = m.physics.co2_g_s(m.x) * 3600.0;
  return air;
}

double ChamberModel::truth(Quantity q) const { return impl_->truth(q); }
double ChamberModel::lagged(Quantity q) const { return impl_->lags[index_of(q)].shown(); }
double ChamberModel::room_celsius() const { return impl_->room.at(impl_->t).celsius; }
double ChamberModel::room_humidity_pct() const { return impl_->room.humidity_pct(room_celsius()); }
double ChamberModel::room_co2_ppm() const {
  return ppm_from_co2_g_g(impl_->room.at(impl_->t).co2_g_g);
}

Books ChamberModel::books() const {
  const ModelState& x = impl_->x;
  const ModelState& b = impl_->began;
  const auto water = [](const ModelState& s) {
    return s[vapour_g] + s[fog_g] + s[film_g] + s[casing_g];
  };
  const auto heat = [](const ModelState& s) { return s[air_j] + s[wall_j] + s[bed_j]; };
  Books books;
  books.water_g = {water(b), water(x), x[water_net_g], x[water_summed_g]};
  books.co2_g = {b[co2_g], x[co2_g], x[co2_net_g], x[co2_summed_g]};
  books.heat_j = {heat(b), heat(x), x[heat_net_j], x[heat_summed_j]};
  books.casing_evaporated_g = x[evaporated_g];
  books.wall_condensed_g = x[condensed_g];
  return books;
}

const ModelParameters& ChamberModel::parameters() const { return impl_->p; }

}  // namespace tubwarden::rehearsal
