#include "rehearsal/beds.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "base/ensure.hpp"

namespace tubwarden::rehearsal {
namespace {

constexpr double kTubKg = 5.0;
/// Of a casing's evaporation, what gets out from under the cover of a spawn run (assumed).
constexpr double kCoveredShare = 0.2;

// A flush: 7 to 10 days each, picked for 2 to 4 of them, sizes double in 24 h while they swell, the
// first two give most (Beyer, after a copy). The division of the eight days is assumed.
constexpr Duration kFlush = hours(8 * 24);
constexpr Duration kGrows = hours(5 * 24);
constexpr Duration kPickedOut = hours(7 * 24);
constexpr Duration kFlushStep = hours(12);
constexpr double kFlushShares[] = {1.0, 1.0, 0.6, 0.4};

/// Of a full flush, what stands so long after fruiting began, or after it came round to this flush.
double flush_share(Duration since, int numbered) {
  const bool alone = numbered > 0;
  const auto flush = static_cast<std::size_t>(alone ? numbered - 1 : since / kFlush);
  const Duration within = alone ? std::min<Duration>(since, kPickedOut) : since % kFlush;
  const double whole = kFlushShares[std::min(flush, std::size(kFlushShares) - 1)];
  if (within >= kPickedOut) return 0.0;
  if (within >= kGrows) return whole;
  return whole * std::exp2(-seconds_of(kGrows - within) / 86400.0);
}

bool wet(const std::string& phase) {
  return phase != kPhaseEmpty && phase != kPhaseGrain && phase != kPhaseColonization;
}

const Stage* stage_at(const Walk& walk, Duration at) {
  for (const Stage& stage : walk.stages) {
    if (stage.from <= at && at < stage.to) return &stage;
  }
  return nullptr;
}

/// Every time at which the bed of one of the tubs changes: phases, halves of a flush's days, water.
std::set<Duration> times_of(const std::vector<Walk>& walks, double start_second_of_day) {
  std::set<Duration> times;
  const auto day = Duration(hours(24));
  for (const Walk& walk : walks) {
    for (const Stage& stage : walk.stages) {
      times.insert(stage.from);
      if (stage.phase == kPhaseFruiting) {
        for (Duration t = stage.from; t < stage.to; t += kFlushStep) times.insert(t);
      }
      if (!wet(stage.phase)) continue;
      const double first_s = std::fmod(kWateredAtS - start_second_of_day + 86400.0, 86400.0);
      const Duration first = from_seconds(first_s);
      const auto gone = std::max<std::int64_t>(0, (stage.from - first + day) / day);
      for (Duration t = first + gone * day; t < stage.to; t += day) times.insert(t);
    }
  }
  return times;
}

}  // namespace

bool knows_phase(const std::string& phase) {
  return phase == kPhaseEmpty || phase == kPhaseGrain || phase == kPhaseColonization ||
         phase == kPhaseCasing || phase == kPhasePinning || phase == kPhaseFruiting;
}

CropParameters crop_in(const TubPlan& tub, const std::string& phase, Duration since, int flush) {
  CropParameters crop;
  if (phase == kPhaseEmpty) return crop;
  const double kg = tub.substrate_kg.value_or(tub.is_shelf ? 0.0 : kTubKg);
  if (tub.is_shelf || phase == kPhaseGrain) {
    crop.substrate_kg = kg;
    crop.substrate_co2_g_kgh = parameters_of(Load::pinning, 1.0).crop.substrate_co2_g_kgh;
    return crop;
  }
  crop = parameters_of(Load::pinning, 1.0, kg).crop;
  if (phase == kPhaseColonization) {
    crop.casing_m2 *= kCoveredShare;
    crop.casing_water_g *= kCoveredShare;
  }
  if (phase != kPhaseFruiting) return crop;
  const CropParameters full = parameters_of(Load::flush, 1.0, kg).crop;
  const double share = flush_share(since, flush);
  crop.mushrooms_kg = share * full.mushrooms_kg;
  crop.casing_m2 += share * (full.casing_m2 - crop.casing_m2);
  return crop;
}

void add_crop(CropParameters& all, const CropParameters& one) {
  all.casing_m2 += one.casing_m2;
  all.casing_water_g += one.casing_water_g;
  all.substrate_kg += one.substrate_kg;
  all.mushrooms_kg += one.mushrooms_kg;
  all.substrate_co2_g_kgh = std::max(all.substrate_co2_g_kgh, one.substrate_co2_g_kgh);
}

std::vector<BedStep> beds_of(const ChamberPlan& chamber, const std::vector<TubPlan>& tubs,
                             const std::vector<Walk>& walks, double start_second_of_day) {
  std::vector<BedStep> steps;
  for (const Duration at : times_of(walks, start_second_of_day)) {
    BedStep step{at, {}, true};
    bool entered = false, morning = false;
    for (const Walk& walk : walks) {
      const Stage* stage = stage_at(walk, at);
      if (stage == nullptr) continue;
      const auto tub = std::find_if(tubs.begin(), tubs.end(),
                                    [&](const TubPlan& t) { return t.id == walk.tub; });
      ENSURE(tub != tubs.end());
      add_crop(step.bed.crop, crop_in(*tub, stage->phase, at - stage->from, stage->flush));
      if (walk.leads) step.bed.net_air_l = chamber.net_volume.in(stage->phase);
      entered = entered || stage->from == at;
      morning = morning || wet(stage->phase);
    }
    const double second = std::fmod(start_second_of_day + seconds_of(at), 86400.0);
    step.given = !entered;
    step.bed.watered = entered || (morning && std::fabs(second - kWateredAtS) < 1.0);
    steps.push_back(step);
  }
  return steps;
}

}  // namespace tubwarden::rehearsal
