// `batch climate`: what each phase kept.
#include <fmt/format.h>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

std::string kept_line(const Json& of, const Look& look) {
  const int digits = text(of, "unit") == "ppm" ? 0 : 1;
  const std::string unit = clean(text(of, "unit"), look);
  std::string line =
      fmt::format("  {} {:>8} {}  {} to {}", padded(clean(text(of, "word"), look), 22),
                  trimmed(number(of, "mean").value_or(0), digits), unit,
                  trimmed(number(of, "least").value_or(0), digits),
                  trimmed(number(of, "most").value_or(0), digits));
  if (yes(of, "at_least")) line += " or more";
  const double banded = number(of, "banded_s").value_or(0);
  if (banded > 0) {
    line += fmt::format("; in its band {} % of the time",
                        trimmed(100.0 * number(of, "inside_s").value_or(0) / banded, 1));
  }
  return line + "\n";
}

std::string kept_head(const Json& row, const Look& look) {
  std::string head = inked(clean(text(row, "tub"), look), Ink::strong, look) + "  " +
                     clean(text(row, "phase"), look);
  if (const auto flush = number(row, "flush")) head += fmt::format(", flush {:.0f}", *flush);
  head += ", " + shortly(number(row, "lasted_s").value_or(0));
  const std::string from = local_time(text(row, "from"), look, true);
  const std::string time =
      yes(row, "lasts") ? "since " + from : from + " to " + local_time(text(row, "to"), look, true);
  return head + "  " + inked(time, Ink::faint, look) + "\n";
}

}  // namespace

Shown show_kept(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "rows");
  if (!answer.ok()) return answer.error();
  std::string page;
  for (const Json& row : list(*answer, "rows")) {
    page += (page.empty() ? "" : "\n") + kept_head(row, look);
    for (const Json& of : list(row, "quantities")) page += kept_line(of, look);
    if (list(row, "quantities").empty()) page += "  no reading was usable\n";
    std::string more;
    for (const Json& of : list(row, "outputs")) {
      more += fmt::format("{}{} ran {}", more.empty() ? "" : ", ", clean(text(of, "id"), look),
                          shortly(number(of, "run_s").value_or(0)));
    }
    if (const double ml = number(row, "watered_ml").value_or(0); ml > 0) {
      more += fmt::format("{}{} mL given", more.empty() ? "" : ", ", trimmed(ml, 0));
    }
    if (!more.empty()) page += beside("  ", more, Ink::plain, look);
    std::string alerts;
    for (const Json& of : list(row, "alerts")) {
      alerts += fmt::format("{}{} {:.0f}x", alerts.empty() ? "" : ", ",
                            clean(text(of, "cause"), look), number(of, "times").value_or(0));
    }
    if (!alerts.empty()) page += beside("  ", "alerts: " + alerts, Ink::warn, look);
  }
  return page;
}

}  // namespace tubwarden::cli
