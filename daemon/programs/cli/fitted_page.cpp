#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "programs/cli/fit.hpp"

namespace tubwarden::cli {
namespace {

using rehearsal::FitAdvice;
using rehearsal::FitMisfit;
using rehearsal::FitOf;
using rehearsal::FittedFigure;

/// Three digits.
std::string fitted_figure(double value) {
  const double size = std::fabs(value);
  return trimmed(value, size >= 100.0 ? 0 : size >= 10.0 ? 1 : size >= 1.0 ? 2 : 3);
}

std::string figure_line(const std::string& name, const std::string& fitted,
                        const std::string& range, const std::string& usual) {
  return "  " + padded(name, 26) + right(fitted, 8) + right(range, 16) + right(usual, 8);
}

std::string figure_table(const rehearsal::TubFit& fit, const Look& look) {
  std::string text =
      inked(figure_line("figure", "fitted", "2 sigma", "before") + "  unit\n", Ink::faint, look);
  std::string untold;
  for (const FittedFigure& f : fit.figures) {
    if (!f.told) {
      untold += (untold.empty() ? "" : ", ") + std::string(words_of(f.of));
      continue;
    }
    text +=
        figure_line(std::string(words_of(f.of)), fitted_figure(f.value),
                    fitted_figure(f.low) + ".." + fitted_figure(f.high), fitted_figure(f.usual)) +
        "  " + std::string(unit_of(f.of)) + "\n";
  }
  if (!untold.empty()) {
    text += beside("  not told by this history: ", untold, Ink::plain, look);
  }
  return text;
}

std::string misfit_text(const rehearsal::TubFit& fit) {
  std::string text;
  double widest = 1.0;
  for (const Quantity q : kAllQuantities) {
    const FitMisfit& misfit = fit.misfit[index_of(q)];
    if (misfit.readings == 0) continue;
    text += fmt::format("{}{} {} {} in {} readings", text.empty() ? "" : ", ", name_of(q),
                        fitted_figure(misfit.rms), unit_of(q), misfit.readings);
    widest = std::max(widest, misfit.alike);
  }
  if (widest < 1.5) return text + ".";
  return text + fmt::format(". Neighbours err alike, so the ranges are up to {} times as wide.",
                            trimmed(std::sqrt(widest), 1));
}

std::string advice_text(const FitAdvice& advice) {
  if (advice.suggested.empty()) {
    return fmt::format("{}. {}", advice.now.empty() ? "as it is" : advice.now + " may stay",
                       advice.why);
  }
  if (advice.now.empty()) return fmt::format("{}. {}", advice.suggested, advice.why);
  return fmt::format("{} instead of {}. {}", advice.suggested, advice.now, advice.why);
}

std::string air_part(const FittedAir& air, const Look& look) {
  const auto moment = [&](WallTime at) { return local_time(rfc3339(at), look); };
  std::string part = "\n";
  part += inked(clean(fmt::format("{}, {}", air.chamber.id, air.phase), look), Ink::strong, look);
  part += fmt::format(", {} to {}\n", moment(air.from), moment(air.to));
  part += figure_table(air.fit, look);
  part += beside("  left over: ", misfit_text(air.fit), Ink::plain, look);
  if (air.advice.empty()) return part;
  part += inked("\n  Suggested\n", Ink::strong, look);
  for (const FitAdvice& advice : air.advice) {
    const std::string of = advice.actuator.empty() ? air.phase + " humidity" : advice.actuator;
    part += beside("  - ", clean(of + " " + advice.key + ": " + advice_text(advice), look),
                   Ink::plain, look);
  }
  return part;
}

}  // namespace

std::string fitted_page(const FittedFolder& fitted, const Look& look) {
  std::string page =
      fmt::format("{}: the model fitted to what the tubs did\n", clean(fitted.site, look));
  for (const FittedAir& air : fitted.airs) page += air_part(air, look);
  page += "\n";
  page +=
      beside("",
             "A range holds as far as the tub is as the model has it: one well mixed air, a lid "
             "that stays on.",
             Ink::faint, look);
  return page;
}

}  // namespace tubwarden::cli
