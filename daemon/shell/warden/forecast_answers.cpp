// `forecast`: of a jar, of a batch, of a tub.
#include <algorithm>

#include "base/text.hpp"
#include "shell/warden/asked.hpp"
#include "shell/warden/forecast_views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// One answer fits so many jars; a turn of the loop must stay short.
constexpr std::size_t kJarsForeseenMax = 50;

struct ForecastWish {
  std::string of, kind;
  std::vector<std::string> jars;
  std::vector<BedKey> beds;
  std::size_t more = 0;  ///< jars that are left out
};

std::optional<BedKey> open_bed(const Warden::State& s, const std::string& tub_id) {
  const auto tub = s.tubs.find(tub_id);
  if (tub == s.tubs.end() || !tub->second.known) return std::nullopt;
  const BedKey key{tub_id, tub->second.known->batch};
  return s.grow.book.beds().contains(key) ? std::optional(key) : std::nullopt;
}

Error nothing_to_foresee(const Warden::State& s, const std::string& of) {
  std::vector<std::string> known = s.grow.book.batches();
  for (const auto& [id, tub] : s.tubs) {
    if (!tub.plan.is_shelf) known.push_back(id);
  }
  Error error = unknown("jar, batch or tub", of, known);
  error.text += "; jars: `tubwarden jar list`";
  return error;
}

Result<ForecastWish> wish_of(const Warden::State& s, const std::string& of) {
  ForecastWish wish{of, "", {}, {}, 0};
  const GrowBook& book = s.grow.book;
  if (book.jar(of)) {
    wish.kind = "jar";
    wish.jars = {of};
    return wish;
  }
  const auto tub = s.tubs.find(of);
  if (tub != s.tubs.end() && !tub->second.plan.is_shelf) {
    wish.kind = "tub";
    const auto bed = open_bed(s, of);
    if (!bed) {
      return Error{ErrorCode::refused, "nothing is noted of a crop in " + of +
                                           "; the pick clock begins with: tubwarden pins " + of +
                                           " --size 3mm"};
    }
    wish.beds = {*bed};
    return wish;
  }
  const std::vector<std::string> batches = book.batches();
  if (std::ranges::find(batches, of) == batches.end()) return nothing_to_foresee(s, of);
  wish.kind = "batch";
  for (const auto& [id, jar] : book.jars()) {
    if (jar.batch == of && jar.stands() && jar.inoculated) wish.jars.push_back(id);
  }
  for (const auto& [key, bed] : book.beds()) {
    if (key.second == of && flush_with_pins(bed)) wish.beds.push_back(key);
  }
  if (wish.jars.size() > kJarsForeseenMax) {
    wish.more = wish.jars.size() - kJarsForeseenMax;
    wish.jars.resize(kJarsForeseenMax);
  }
  return wish;
}

std::vector<StoodOn> stays_of_wish(const Warden::State& s, const ForecastWish& wish, WallTime now) {
  std::vector<StoodOn> stays;
  for (const std::string& id : wish.jars) {
    const std::vector<StoodOn> more = stays_of(*s.grow.book.jar(id), now);
    stays.insert(stays.end(), more.begin(), more.end());
  }
  for (const BedKey& key : wish.beds) {
    const Flush* flush = flush_with_pins(s.grow.book.beds().at(key));
    if (flush) stays.push_back({key.first, *flush->pins, now});
  }
  return stays;
}

}  // namespace

void do_forecast(Asked& asked) {
  Warden::State& s = asked.s;
  if (!s.parts.clock.wall_is_set()) {
    return asked.reply(Error{ErrorCode::unavailable,
                             "the board's clock is not set yet, so no day can be told; ask again "
                             "when it is"});
  }
  const auto wish = wish_of(s, asked.args.text("of"));
  if (!wish.ok()) return asked.reply(wish.error());
  const WallTime now = s.parts.clock.wall();
  gather_warmth(s, stays_of_wish(s, *wish, now),
                [&s, wish = *wish, now, reply = std::move(asked.reply)](auto past) {
                  if (!past.ok()) return reply(past.error());
                  Json jars = Json::array(), tubs = Json::array();
                  for (const std::string& id : wish.jars) {
                    const Jar* jar = s.grow.book.jar(id);
                    if (jar) jars.push_back(jar_foreseen(s, *jar, *past, now));
                  }
                  for (const BedKey& key : wish.beds) {
                    const Bed* bed = s.grow.book.bed(key.first, key.second);
                    if (bed) tubs.push_back(bed_foreseen(s, *bed, *past, now));
                  }
                  reply(Json{{"of", wish.of},
                             {"kind", wish.kind},
                             {"at", rfc3339(now)},
                             {"jars", std::move(jars)},
                             {"jars_more", wish.more},
                             {"tubs", std::move(tubs)}}
                            .dump());
                });
}

}  // namespace tubwarden
