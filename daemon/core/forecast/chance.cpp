#include "core/forecast/chance.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/hypergeometric.hpp>

namespace tubwarden {
namespace {

namespace policies = boost::math::policies;
/// No exception and no errno: arguments are checked before.
using Quiet = policies::policy<policies::domain_error<policies::ignore_error>,
                               policies::overflow_error<policies::ignore_error>,
                               policies::evaluation_error<policies::ignore_error>>;
using Hypergeometric = boost::math::hypergeometric_distribution<double, Quiet>;

bool counts_fit(std::int64_t affected, std::int64_t of) {
  return affected >= 0 && affected <= of && of <= kChanceJarsMost;
}

}  // namespace

Result<double> chance_of(const SiblingCounts& counts) {
  const auto& [affected, siblings, others_affected, others] = counts;
  if (!counts_fit(affected, siblings) || !counts_fit(others_affected, others)) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{} of {} siblings and {} of {} others; allowed: counts from 0, none "
                             "above what it is of, and at most {} jars",
                             affected, siblings, others_affected, others, kChanceJarsMost)};
  }
  // The least that must be siblings, as there are not enough others.
  const std::int64_t all = affected + others_affected;
  if (affected <= std::max<std::int64_t>(0, all - others)) return 1.0;
  const Hypergeometric drawn(static_cast<std::uint64_t>(all), static_cast<std::uint64_t>(siblings),
                             static_cast<std::uint64_t>(siblings + others));
  const double chance =
      boost::math::cdf(boost::math::complement(drawn, static_cast<std::uint64_t>(affected - 1)));
  return std::clamp(chance, 0.0, 1.0);
}

}  // namespace tubwarden
