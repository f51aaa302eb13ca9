#include "core/climate/kept_climate.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"

namespace tubwarden {
namespace {

std::string share_text(const QuantityKept& of) {
  const double share = 100.0 * of.inside_s / of.banded_s;
  // "100 %" is for never outside.
  const bool nearly = share > 99.5 && of.inside_s < of.banded_s;
  return nearly ? "more than 99" : trimmed(share, 0);
}

}  // namespace

void QuantityKept::add(double value, bool top_of_range, const std::optional<KeptBand>& kept,
                       Duration lasted) {
  if (lasted <= Duration{0}) return;
  const double s = seconds_of(lasted);
  least = live_s > 0.0 ? std::min(least, value) : value;
  most = live_s > 0.0 ? std::max(most, value) : value;
  live_s += s;
  mean += (value - mean) * (s / live_s);
  at_least = at_least || top_of_range;
  if (!kept) return;
  banded_s += s;
  const bool low = kept->raises && value < kept->band.low;
  const bool high = kept->lowers && value > kept->band.high;
  if (!low && !high) inside_s += s;
}

void KeptSums::ran(const std::string& output, double run_s) {
  for (OutputKept& known : outputs) {
    if (known.id != output) continue;
    known.run_s += run_s;
    return;
  }
  if (outputs.size() < kOutputsKeptMax) outputs.push_back({output, run_s});
}

void KeptSums::join(const KeptSums& other) {
  for (std::size_t i = 0; i < kQuantities; ++i) {
    QuantityKept& mine = quantities[i];
    const QuantityKept& more = other.quantities[i];
    if (more.live_s <= 0.0) continue;
    const bool first = mine.live_s <= 0.0;
    mine.least = first ? more.least : std::min(mine.least, more.least);
    mine.most = first ? more.most : std::max(mine.most, more.most);
    mine.live_s += more.live_s;
    mine.mean += (more.mean - mine.mean) * (more.live_s / mine.live_s);
    mine.banded_s += more.banded_s;
    mine.inside_s += more.inside_s;
    mine.at_least = mine.at_least || more.at_least;
  }
  for (const OutputKept& output : other.outputs) ran(output.id, output.run_s);
}

std::string told(const KeptSums& kept) {
  std::string text;
  for (Quantity q : kAllQuantities) {
    const QuantityKept& of = kept.of(q);
    if (of.live_s <= 0.0) continue;
    const int digits = q == Quantity::co2 ? 0 : 1;
    text += fmt::format("{}{} {}{} {} ({} to {})", text.empty() ? "" : "; ", word_of(q),
                        of.at_least ? "at least " : "", trimmed(of.mean, digits), unit_of(q),
                        trimmed(of.least, digits), trimmed(of.most, digits));
    if (of.banded_s > 0.0) {
      text += fmt::format(", in its band for {} % of the time", share_text(of));
    }
  }
  return text.empty() ? "no reading was usable" : text;
}

}  // namespace tubwarden
