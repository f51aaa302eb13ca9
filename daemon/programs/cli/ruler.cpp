#include "programs/cli/ruler.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/ensure.hpp"

namespace tubwarden::cli {
namespace {

struct Glyphs {
  const char *paper, *band, *low, *high, *warn, *mark, *under, *over;
};
constexpr Glyphs kUnicode = {"\u00b7", "\u2500", "\u251c", "\u2524",
                             "\u254e", "\u25cf", "\u25c2", "\u25b8"};
constexpr Glyphs kAscii = {".", "-", "[", "]", "!", "O", "<", ">"};

/// Room on either side of the band, in band widths: enough to see a drift before it is wrong, and
/// never so much that the band shrinks to a dot.
constexpr double kMarginLeast = 0.5;
constexpr double kMarginMost = 2.5;

struct Scale {
  double low = 0.0, high = 1.0;
  int cells = 1;

  bool holds(double value) const { return value >= low && value <= high; }
  int cell(double value) const {
    const double part = (value - low) / (high - low);
    return std::clamp(static_cast<int>(std::lround(part * (cells - 1))), 0, cells - 1);
  }
};

std::optional<Scale> scale_of(const Reading& r, int cells) {
  double low = 0.0, high = 0.0;
  if (r.keep_low && r.keep_high) {
    const double width = std::max(*r.keep_high - *r.keep_low, 1e-6);
    low = std::clamp(r.warn_low.value_or(*r.keep_low), *r.keep_low - kMarginMost * width,
                     *r.keep_low - kMarginLeast * width);
    high = std::clamp(r.warn_high.value_or(*r.keep_high), *r.keep_high + kMarginLeast * width,
                      *r.keep_high + kMarginMost * width);
  } else if (r.warn_low && r.warn_high) {
    const double width = *r.warn_high - *r.warn_low;
    low = *r.warn_low - kMarginLeast * width;
    high = *r.warn_high + kMarginLeast * width;
  } else {
    return std::nullopt;
  }
  low = std::max(low, r.least);
  high = std::min(high, r.most);
  if (!(high > low)) return std::nullopt;
  return Scale{low, high, cells};
}

}  // namespace

Stand stand_of(const Reading& r) {
  if (!r.value || (!r.keep_low && !r.warn_low && !r.warn_high)) return Stand::unjudged;
  if (r.warn_low && *r.value < *r.warn_low) return Stand::too_low;
  if (r.warn_high && *r.value > *r.warn_high) return Stand::too_high;
  if (r.keep_low && *r.value < *r.keep_low && !r.low_is_fine) return Stand::below;
  if (r.keep_high && *r.value > *r.keep_high) return Stand::above;
  return Stand::inside;
}

const char* word_of(Stand stand) {
  switch (stand) {
    case Stand::unjudged:
      return "";
    case Stand::inside:
      return "in band";
    case Stand::below:
      return "low";
    case Stand::above:
      return "high";
    case Stand::too_low:
      return "TOO LOW";
    case Stand::too_high:
      return "TOO HIGH";
  }
  ENSURE(false);
}

std::string ruler(const Reading& r, int cells, bool utf8) {
  const auto count = static_cast<std::size_t>(std::max(cells, 1));
  const auto scale = scale_of(r, static_cast<int>(count));
  if (!scale) return std::string(count, ' ');
  const Glyphs& g = utf8 ? kUnicode : kAscii;
  std::vector<const char*> row(count, g.paper);
  const auto put = [&](double at, const char* glyph) {
    if (scale->holds(at)) row[static_cast<std::size_t>(scale->cell(at))] = glyph;
  };
  if (r.keep_low && r.keep_high) {
    for (int i = scale->cell(*r.keep_low); i <= scale->cell(*r.keep_high); ++i) {
      row[static_cast<std::size_t>(i)] = g.band;
    }
    put(*r.keep_low, g.low);
    put(*r.keep_high, g.high);
  }
  if (r.warn_low) put(*r.warn_low, g.warn);
  if (r.warn_high) put(*r.warn_high, g.warn);
  if (r.value) {
    if (scale->holds(*r.value)) {
      put(*r.value, g.mark);
    } else if (*r.value < scale->low) {
      row.front() = g.under;
    } else {
      row.back() = g.over;
    }
  }
  std::string text;
  for (const char* glyph : row) text += glyph;
  return text;
}

}  // namespace tubwarden::cli
