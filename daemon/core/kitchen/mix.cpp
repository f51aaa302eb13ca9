#include "core/kitchen/mix.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace tubwarden {
namespace {

constexpr Material kMaterials[] = {
    {"wheat-straw", 0.12, 0.004, 127.0},
    {"oat-straw", 0.12, 0.009, 60.0},
    {"corn-stalks", 0.12, 0.007, 65.0},
    {"corn-cobs", 0.15, 0.006, 98.0},
    {"hay", 0.10, 0.021, 20.0},
    {"horse-manure", 0.72, 0.016, 30.0},
    {"cattle-manure", 0.81, 0.024, 19.0},
    {"broiler-litter", 0.37, 0.027, 14.0},
    {"coffee-grounds", 0.60, 0.022, 20.0},
    {"soybean-meal", 0.10, 0.073, 5.0},
};

/// 40 lb on a short ton of dry ingredients (Penn State, Six Steps to Mushroom Farming).
constexpr double kGypsum = 0.02;
/// Where composting for this mushroom begins and ends (from memory).
constexpr double kRatioBegins = 30.0, kRatioEnds = 17.0;
constexpr double kMassMost = 5000.0;

Error bad(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

}  // namespace

std::span<const Material> materials() { return kMaterials; }

std::optional<Material> material_named(std::string_view name) {
  for (const Material& m : kMaterials) {
    if (m.name == name) return m;
  }
  return std::nullopt;
}

std::optional<Substrate> substrate_of(const SubstrateWish& wish) {
  Substrate found;
  double wet = 0.0, nitrogen = 0.0, carbon = 0.0;
  for (const Ingredient& part : wish.ingredients) {
    const double dry = part.kg * (1.0 - part.material.moisture);
    wet += part.kg;
    found.dry_kg += dry;
    nitrogen += dry * part.material.nitrogen;
    carbon += dry * part.material.nitrogen * part.material.carbon_nitrogen;
  }
  if (!(nitrogen > 0.0)) return std::nullopt;
  found.wet_kg = found.dry_kg / (1.0 - wish.target);
  found.water_kg = found.wet_kg - wet;
  if (found.water_kg < 0.0) return std::nullopt;
  found.nitrogen = nitrogen / found.dry_kg;
  found.carbon_nitrogen = carbon / nitrogen;
  return found;
}

Result<Sum> substrate_sum(const SubstrateWish& wish) {
  if (wish.ingredients.empty()) return bad("no ingredient; allowed: MATERIAL=MASS, one or more");
  for (const Ingredient& part : wish.ingredients) {
    if (part.kg > 0.0 && part.kg <= kMassMost) continue;
    return bad(fmt::format("{}: {:.3f} kg; allowed: more than 0 kg and at most 5000 kg",
                           part.material.name, part.kg));
  }
  if (!(wish.target > 0.3 && wish.target <= 0.85)) {
    return bad(
        fmt::format("a wanted moisture of {:.1f} %; allowed: 30 to 85 %", wish.target * 100.0));
  }
  const auto found = substrate_of(wish);
  if (!found) {
    return bad(
        "the ingredients are wetter than wanted; allowed: drier ones, or a higher --moisture");
  }
  Sum sum;
  sum.title = "Substrate";
  for (const Ingredient& part : wish.ingredients) {
    sum.given.push_back({std::string(part.material.name), part.kg, "kg", 2});
  }
  sum.given.push_back({"wanted moisture", wish.target * 100.0, "%", 1});
  sum.formula =
      "dry = sum of mass x (1 - moisture); water = dry / (1 - wanted) - mass; C:N = sum of carbon "
      "/ "
      "sum of nitrogen";
  sum.found = {{"dry mass", found->dry_kg, "kg", 2},
               {"water to add", found->water_kg, "kg", 2},
               {"wet mass", found->wet_kg, "kg", 2},
               {"nitrogen of the dry mass", found->nitrogen * 100.0, "%", 2},
               {"C:N", found->carbon_nitrogen, ":1", 0},
               {"gypsum, 2 % of the dry mass", found->dry_kg * kGypsum, "kg", 3}};
  if (found->carbon_nitrogen > kRatioBegins * 1.2) {
    sum.says.push_back(
        "More carbon than a compost begins with (about 30:1): it heats slowly. Manure or meal "
        "brings "
        "nitrogen.");
  } else if (found->carbon_nitrogen < kRatioEnds) {
    sum.says.push_back(
        "More nitrogen than a finished compost has (about 17:1): ammonia comes of it, and spawn "
        "does "
        "not run where ammonia can be smelt.");
  }
  sum.says.push_back(
      "Masses of a day's weather differ: weigh what you have, and let a handful wrung hard give "
      "only "
      "a few drops.");
  sum.source =
      "materials after NRAES-54 (1992), table A.1, from memory; moisture: HDC factsheet on spawn "
      "running; gypsum: Penn State, Six Steps to Mushroom Farming";
  sum.cautions = {
      "Dust and spores of compost harm lungs: damp it before it is moved, outdoors or aired, with "
      "a "
      "fitting mask. Fever or breathlessness hours later: see a doctor.",
      "Pasteurise before spawning; hot compost uses up the air of a small room."};
  return sum;
}

Result<Sum> spawn_sum(const SpawnWish& wish) {
  if (!(wish.substrate_kg > 0.0 && wish.substrate_kg <= kMassMost)) {
    return bad("the substrate is more than 0 kg and at most 5000 kg");
  }
  if (!(wish.rate > 0.0 && wish.rate <= 0.3)) return bad("the rate is above 0 % and at most 30 %");
  const double spawn = wish.substrate_kg * wish.rate;
  Sum sum;
  sum.title = "Spawn for a substrate";
  sum.given = {{"wet substrate", wish.substrate_kg, "kg", 2}, {"rate", wish.rate * 100.0, "%", 2}};
  sum.formula = "spawn = wet substrate x rate";
  sum.found = {{"spawn", spawn, "kg", 3}};
  if (wish.jar_kg > 0.0) {
    sum.given.push_back({"grain in a full jar", wish.jar_kg, "kg", 3});
    sum.found.push_back({"jars", std::ceil(spawn / wish.jar_kg - 1e-9), "", 0});
  }
  sum.says = {
      "Farms give 0.5 to 2 % of the fresh compost; in tubs 5 % and more is usual, for what runs "
      "sooner is spoilt less. More spawn warms the bed more."};
  sum.source = "common practice, no source";
  sum.cautions = {
      "Mixing throws up spores and dust: a mask, and hands and tools cleaned before. No flame "
      "while "
      "alcohol is wet on hands, tools or table."};
  return sum;
}

Result<Sum> casing_sum(const CasingWish& wish) {
  const auto side = [](double m) { return m > 0.0 && m <= 20.0; };
  if (!side(wish.length_m) || !side(wish.width_m)) {
    return bad("length and width are above 0 and at most 20 m");
  }
  if (!(wish.depth_m >= 0.005 && wish.depth_m <= 0.15)) {
    return bad("the depth is 5 mm to 15 cm");
  }
  const double area = wish.length_m * wish.width_m;
  Sum sum;
  sum.title = "Casing";
  sum.given = {{"length", wish.length_m * 100.0, "cm", 1},
               {"width", wish.width_m * 100.0, "cm", 1},
               {"depth", wish.depth_m * 100.0, "cm", 1}};
  sum.formula = "volume = length x width x depth";
  sum.found = {{"area", area, "m2", 3}, {"casing", area * wish.depth_m * 1000.0, "L", 1}};
  if (wish.depth_m < 0.025 || wish.depth_m > 0.05) {
    sum.says.push_back("Usual are 2.5 to 5 cm: thinner dries out, thicker breathes badly.");
  }
  sum.says.push_back(
      "Measured loose; water makes it settle by about a tenth. pH 7.0 to 7.5 before it goes on.");
  sum.source =
      "depth and pH: Stamets & Chilton, The Mushroom Cultivator, 1983, p. 166; settling: common "
      "practice, no source";
  sum.cautions = {"Lime is caustic when wet: gloves and glasses."};
  return sum;
}

}  // namespace tubwarden
