#include "programs/cli/batch_report.hpp"

#include <algorithm>

namespace tubwarden::cli {
namespace {

void add_known(std::optional<double>& sum, const std::optional<double>& more) {
  sum = sum && more ? std::optional(*sum + *more) : std::nullopt;
}

CropYield yield_or_nothing(const CropBasis& basis) {
  const auto yield = yield_of(basis);
  return yield.ok() ? *yield : CropYield{};
}

CropBasis basis_of(const ReportBed& bed) {
  CropBasis basis;
  basis.picked_kg = bed.grams / 1000.0;
  basis.dry_kg = bed.dry_kg;
  if (bed.substrate_kg > 0.0) basis.substrate_kg = bed.substrate_kg;
  basis.surface_m2 = bed.surface_m2;
  basis.water_l = bed.water_l;
  return basis;
}

}  // namespace

CropYield yield_of_bed(const ReportBed& bed) { return yield_or_nothing(basis_of(bed)); }

double BatchReport::grams() const {
  double all = 0.0;
  for (const ReportBed& bed : beds) all += bed.grams;
  return all;
}

CropYield BatchReport::yield() const {
  if (beds.empty()) return {};
  CropBasis all = basis_of(beds.front());
  for (std::size_t i = 1; i < beds.size(); ++i) {
    const CropBasis more = basis_of(beds[i]);
    all.picked_kg += more.picked_kg;
    add_known(all.dry_kg, more.dry_kg);
    add_known(all.substrate_kg, more.substrate_kg);
    add_known(all.surface_m2, more.surface_m2);
    add_known(all.water_l, more.water_l);
  }
  return yield_or_nothing(all);
}

WallTime BatchReport::begins() const {
  WallTime first = made;
  for (const ReportPhase& phase : phases) first = std::min(first, phase.from);
  for (const ReportJar& jar : jars) first = std::min(first, jar.inoculated.value_or(first));
  return first;
}

WallTime BatchReport::ends() const {
  WallTime last = begins();
  for (const ReportPhase& phase : phases) last = std::max(last, phase.to.value_or(made));
  for (const ReportBed& bed : beds) {
    for (const ReportFlush& flush : bed.flushes) {
      for (const ReportPick& pick : flush.picks) last = std::max(last, pick.at);
    }
  }
  return std::min(last, made);
}

}  // namespace tubwarden::cli
