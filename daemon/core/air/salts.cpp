#include "core/air/salts.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr SaltTraits kSalts[] = {
    {Salt::lithium_chloride, "LiCl", "lithium chloride",
     "Harmful when swallowed and hard on skin and eyes: gloves, and away from children and pets."},
    {Salt::magnesium_chloride, "MgCl2", "magnesium chloride (hexahydrate, as for tofu)",
     "Draws water from the air: weigh it fast, close the bag; rinse it off metal."},
    {Salt::sodium_chloride, "NaCl", "table salt without anti-caking agent (sodium chloride)",
     "Food grade is harmless; it rusts metal and must not touch the sensor."},
    {Salt::potassium_chloride, "KCl", "potassium chloride",
     "Sold as a salt substitute; not for people with weak kidneys or heart medicines to eat."},
    {Salt::potassium_sulfate, "K2SO4", "potassium sulphate (a fertiliser)",
     "Keep it out of eyes and mouths; it dissolves slowly, so give it a day more."},
};

/// Greenspan 1977: RH = a0 + a1 t + a2 t^2 + a3 t^3, t in C; and the uncertainties of his table at
/// 10, 15, 20, 25 and 30 C. The polynomials are from memory, and give his table within 0.01.
struct Curve {
  Salt salt;
  std::array<double, 4> a;
  std::array<double, 5> uncertainty;
};
constexpr double kStep = 5.0;
constexpr Curve kCurves[] = {
    {Salt::lithium_chloride,
     {11.2323, 0.00824245, -2.14890e-4, 0.0},
     {0.41, 0.35, 0.31, 0.27, 0.24}},
    {Salt::magnesium_chloride,
     {33.6686, -0.00797397, -0.00108988, 0.0},
     {0.24, 0.21, 0.18, 0.16, 0.14}},
    {Salt::sodium_chloride,
     {75.5164, 0.0398321, -0.00265459, 2.848e-5},
     {0.22, 0.18, 0.14, 0.12, 0.11}},
    {Salt::potassium_chloride,
     {88.6190, -0.193340, 8.99706e-4, 0.0},
     {0.39, 0.33, 0.29, 0.26, 0.25}},
    {Salt::potassium_sulfate, {98.7792, -0.0590502, 0.0, 0.0}, {0.76, 0.63, 0.53, 0.45, 0.40}},
};

const Curve& curve_of(Salt salt) {
  for (const Curve& c : kCurves) {
    if (c.salt == salt) return c;
  }
  ENSURE(false);
}

bool same_word(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](char x, char y) {
    return std::tolower(static_cast<unsigned char>(x)) ==
           std::tolower(static_cast<unsigned char>(y));
  });
}

}  // namespace

std::span<const SaltTraits> salts() { return kSalts; }

std::optional<Salt> salt_named(std::string_view formula) {
  for (const SaltTraits& s : kSalts) {
    if (same_word(s.formula, formula)) return s.salt;
  }
  return std::nullopt;
}

std::optional<FixedPoint> over_salt(Salt salt, Celsius t) {
  if (!(t >= kSaltsFrom && t <= kSaltsTo)) return std::nullopt;
  const Curve& c = curve_of(salt);
  const double x = t.value;
  const double humidity = c.a[0] + x * (c.a[1] + x * (c.a[2] + x * c.a[3]));
  const double place = (x - kSaltsFrom.value) / kStep;
  const auto below = static_cast<std::size_t>(std::floor(place));
  const auto above = static_cast<std::size_t>(std::ceil(place));
  return FixedPoint{{humidity}, std::max(c.uncertainty[below], c.uncertainty[above])};
}

}  // namespace tubwarden
