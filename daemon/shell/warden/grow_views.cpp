#include "shell/warden/grow_views.hpp"

#include <algorithm>
#include <cmath>

#include "base/ensure.hpp"
#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

double to_hundredths(double value) { return std::round(value * 100.0) / 100.0; }

template <class T>
Json or_null(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

}  // namespace

std::string_view name_of(JarFate fate) {
  switch (fate) {
    case JarFate::standing:
      return "standing";
    case JarFate::mixed:
      return "mixed";
    case JarFate::contaminated:
      return "contaminated";
    case JarFate::discarded:
      return "discarded";
  }
  ENSURE(false);
}

std::vector<const Jar*> jars_in_order(const GrowBook& book) {
  std::vector<const Jar*> jars;
  for (const auto& [id, jar] : book.jars()) jars.push_back(&jar);
  std::sort(jars.begin(), jars.end(), [](const Jar* a, const Jar* b) {
    return a->id.size() != b->id.size() ? a->id.size() < b->id.size() : a->id < b->id;
  });
  return jars;
}

Json culture_view(const GrowBook& book, const Culture& culture) {
  int jars = 0, contaminated = 0;
  for (const auto& [id, jar] : book.jars()) {
    if (jar.culture != culture.id) continue;
    ++jars;
    if (jar.contaminated) ++contaminated;
  }
  return {{"id", culture.id},
          {"strain", culture.strain},
          {"source", culture.source},
          {"millilitres", culture.millilitres},
          {"used_ml", to_hundredths(culture.used_ml)},
          {"left_ml", culture.discarded ? 0.0 : to_hundredths(culture.left_ml())},
          {"received", rfc3339(culture.received)},
          {"opened", time_of(culture.opened)},
          {"discarded", time_of(culture.discarded)},
          {"jars", jars},
          {"contaminated", contaminated}};
}

Json jar_view(const Jar& jar, WallTime now) {
  const WallTime begun = jar.inoculated.value_or(jar.added);
  const WallTime end = jar.stands() ? now : jar.fate_at;
  Json j = {{"id", jar.id},
            {"batch", jar.batch},
            {"grain", jar.grain},
            {"run", jar.run},
            {"culture", jar.culture},
            {"dose_ml", jar.dose_ml},
            {"fill_g", or_null(jar.fill_g)},
            {"lid", jar.vented ? "vented" : "closed"},
            {"shelf", jar.shelf},
            {"added", rfc3339(jar.added)},
            {"inoculated", time_of(jar.inoculated)},
            {"days", std::max<std::int64_t>(0, std::chrono::floor<days>(end - begun).count())},
            {"grown_pct", jar.looks.empty() ? Json(nullptr) : Json(jar.looks.back().grown_pct)},
            {"looked", jar.looks.empty() ? Json(nullptr) : Json(rfc3339(jar.looks.back().at))},
            {"shaken", jar.shaken.empty() ? Json(nullptr) : Json(rfc3339(jar.shaken.back()))},
            {"fate", name_of(jar.fate)},
            {"fate_at", jar.stands() ? Json(nullptr) : Json(rfc3339(jar.fate_at))},
            {"fate_text", jar.fate_text},
            {"contaminated", time_of(jar.contaminated)},
            {"into_tub", jar.into_tub},
            {"into_batch", jar.into_batch}};
  j["looks"] = Json::array();
  for (const JarLook& look : jar.looks) {
    j["looks"].push_back({{"at", rfc3339(look.at)}, {"grown_pct", look.grown_pct}});
  }
  return j;
}

Json bed_view(const Bed& bed) {
  Json j = {{"tub", bed.tub},
            {"batch", bed.batch},
            {"spawned", time_of(bed.spawned)},
            {"cased", time_of(bed.cased)},
            {"contaminated", time_of(bed.contaminated)},
            {"jars", bed.jars},
            {"mix", bed.mix},
            {"substrate_kg", bed.substrate_kg},
            {"dry_kg", or_null(bed.dry_kg)},
            {"surface_m2", or_null(bed.surface_m2)},
            {"grams", bed.grams()}};
  j["flushes"] = Json::array();
  for (const Flush& flush : bed.flushes) {
    Json picks = Json::array();
    for (const Pick& pick : flush.picks) {
      picks.push_back(
          {{"at", rfc3339(pick.at)}, {"grams", pick.grams}, {"count", or_null(pick.count)}});
    }
    j["flushes"].push_back({{"number", flush.number},
                            {"pins", time_of(flush.pins)},
                            {"pin_mm", flush.pin_mm},
                            {"picks", picks},
                            {"cleaned", time_of(flush.cleaned)},
                            {"grams", flush.grams()}});
  }
  return j;
}

}  // namespace tubwarden
