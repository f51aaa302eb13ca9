// Forecasts for what is due: made anew for jars that were looked at since, and for beds with pins.
#include <algorithm>
#include <functional>
#include <utility>

#include "shell/warden/forecast_views.hpp"

namespace tubwarden {
namespace {

/// One turn of the loop fits so many curves; the others are due by the profile's window until then.
constexpr std::size_t kFitsATurn = 20;
/// A day's picking is told from the morning on.
constexpr Duration kMorningToEvening = hours(12);

/// Jars whose looks are enough for a curve and are not in the last one, newest looks first.
std::vector<std::string> jars_to_foresee(const GrowHeld& grow) {
  std::vector<std::pair<WallTime, std::string>> found;
  for (const auto& [id, jar] : grow.book.jars()) {
    if (!jar.stands() || !jar.inoculated || jar.looks.size() < kLooksLeast) continue;
    const auto known = grow.foreseen.find(id);
    if (known != grow.foreseen.end() && known->second.looks == jar.looks.size() &&
        known->second.shakes == jar.shaken.size()) {
      continue;
    }
    found.emplace_back(jar.looks.back().at, id);
  }
  const std::size_t kept = std::min(found.size(), kFitsATurn);
  std::ranges::partial_sort(found, found.begin() + static_cast<std::ptrdiff_t>(kept),
                            std::greater<>());
  std::vector<std::string> ids;
  for (std::size_t i = 0; i < kept; ++i) ids.push_back(found[i].second);
  return ids;
}

void forget_gone(GrowHeld& grow) {
  std::erase_if(grow.foreseen, [&](const auto& known) {
    const Jar* jar = grow.book.jar(known.first);
    return !jar || !jar->stands() || jar->looks.size() < kLooksLeast;
  });
  grow.first_picks.clear();
}

void keep_foreseen(Warden::State& s, const std::vector<std::string>& jars,
                   const std::vector<BedKey>& beds, const PastWarmth& past, WallTime now) {
  for (const std::string& id : jars) {
    const Jar* jar = s.grow.book.jar(id);
    if (!jar) continue;
    GrowHeld::Foreseen& kept = s.grow.foreseen[id];
    kept = {jar->looks.size(), jar->shaken.size(), {}};
    const auto told = forecast_of(s, *jar, past, now);
    if (!told) continue;
    if (told->shake_from) kept.jar.shake_from = told->shake_from->likely;
    if (told->shake_to) kept.jar.shake_to = told->shake_to->likely;
    if (told->basis == ForecastBasis::looks) kept.jar.full = told->full.likely;
  }
  for (const BedKey& key : beds) {
    const Bed* bed = s.grow.book.bed(key.first, key.second);
    const auto told = bed ? forecast_of(s, *bed, past, now) : std::nullopt;
    if (told) {
      s.grow.first_picks[key] = told->evening - duration_cast<milliseconds>(kMorningToEvening);
    }
  }
}

}  // namespace

void Warden::State::foresee(std::function<void()> then) {
  const WallTime wall = parts.clock.wall();
  forget_gone(grow);
  const std::vector<std::string> jars = jars_to_foresee(grow);
  std::vector<BedKey> beds;
  std::vector<StoodOn> stays;
  for (const std::string& id : jars) {
    const std::vector<StoodOn> more = stays_of(*grow.book.jar(id), wall);
    stays.insert(stays.end(), more.begin(), more.end());
  }
  for (const auto& [key, bed] : grow.book.beds()) {
    const Flush* flush = flush_with_pins(bed);
    if (!flush || !flush->picks.empty() || flush->cleaned) continue;
    beds.push_back(key);
    stays.push_back({key.first, *flush->pins, wall});
  }
  if (jars.empty() && beds.empty()) return then();
  gather_warmth(*this, std::move(stays),
                [this, jars, beds, wall, then = std::move(then)](auto past) {
                  // Without the record's past the band's middle stands for it.
                  keep_foreseen(*this, jars, beds, past.ok() ? *past : PastWarmth{}, wall);
                  then();
                });
}

}  // namespace tubwarden
