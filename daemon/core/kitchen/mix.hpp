// What goes into a tub: the substrate's water, gypsum and carbon to nitrogen, spawn, and casing.
// Threading: pure functions, constant data. Failure: an Error with what is allowed.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "core/kitchen/sum.hpp"

namespace tubwarden {

/// A material as it is bought. Typical values of On-Farm Composting Handbook (NRAES-54, 1992),
/// table A.1, from memory; the real ones differ by a third.
struct Material {
  std::string_view name;   ///< the word at the command line: "wheat-straw"
  double moisture;         ///< 0..1 of the wet mass
  double nitrogen;         ///< 0..1 of the dry mass
  double carbon_nitrogen;  ///< by mass
};
std::span<const Material> materials();
std::optional<Material> material_named(std::string_view name);

struct Ingredient {
  Material material;
  double kg = 0.0;  ///< as it is
};
struct SubstrateWish {
  std::vector<Ingredient> ingredients;
  double target = 0.69;  ///< moisture wanted, 0..1 (HDC factsheet on spawn running: about 69 %)
};
struct Substrate {
  double dry_kg = 0.0;
  double water_kg = 0.0;  ///< to add
  double wet_kg = 0.0;
  double nitrogen = 0.0;         ///< 0..1 of the dry mass
  double carbon_nitrogen = 0.0;  ///< of the mix: sum of carbon by sum of nitrogen
};
/// Nothing without nitrogen, and where the ingredients are wetter than wanted.
std::optional<Substrate> substrate_of(const SubstrateWish& wish);
Result<Sum> substrate_sum(const SubstrateWish& wish);

struct SpawnWish {
  double substrate_kg = 0.0;  ///< wet
  double rate = 0.05;         ///< 0..1 of the wet substrate
  double jar_kg = 0.0;        ///< of full grain a jar; 0: not asked
};
Result<Sum> spawn_sum(const SpawnWish& wish);

struct CasingWish {
  double length_m = 0.0, width_m = 0.0;
  double depth_m = 0.04;
};
Result<Sum> casing_sum(const CasingWish& wish);

}  // namespace tubwarden
