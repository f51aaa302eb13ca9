#include <fmt/format.h>

#include "base/text.hpp"
#include "programs/cli/rehearsed_rows.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kControlWidth = 11;

std::string quantity_lines(const PhaseRows& rows, bool several, const Look& look) {
  if (rows.quantities.empty()) return "";
  const std::size_t control = several ? kControlWidth : 0;
  const auto line = [&](const QuantityRow& row) {
    return "  " + padded(row.quantity, 16) + padded(row.band, 16) + padded(row.control, control) +
           right(row.truth, 8) + right(row.sensed, 9) + right(row.over, 8) + right(row.under, 8) +
           "\n";
  };
  std::string text = inked(
      line({"in band", "the band", several ? "control" : "", "true", "sensed", "over", "under"}),
      Ink::faint, look);
  for (const QuantityRow& row : rows.quantities) text += line(row);
  return text;
}

std::string phase_part(const PhaseRows& rows, bool several, const Look& look) {
  std::string part = inked(rows.title + "\n", Ink::strong, look);
  part += quantity_lines(rows, several, look);
  for (const FactRow& fact : rows.facts) {
    part += beside("  " + padded(fact.head, 10) + padded(fact.control, several ? kControlWidth : 0),
                   fact.text, Ink::plain, look);
  }
  return part;
}

std::string tub_part(const Rehearsed& r, std::size_t air, std::size_t tub, const Look& look) {
  const auto& played = r.played.airs[air];
  const auto& tally = played.tubs[tub];
  std::string part = inked(clean(tub_title(r, air, tub), look) + "\n", Ink::strong, look);
  if (!tally.leads) {
    part += "  judged by its own phase; the air is kept for " + played.tubs.front().tub + "\n";
  }
  for (std::size_t p = 0; p < tally.phases.size(); ++p) {
    part += "\n" + phase_part(phase_rows(r, air, tub, p), r.beside.has_value(), look);
  }
  return part;
}

}  // namespace

std::string rehearsing(const std::string& air, double done) {
  return fmt::format("rehearsing {}: {:.0f} %", air, 100.0 * done);
}

std::string fault_words(const FaultLine& fault) {
  std::string where = fault.chamber;
  if (!fault.part.empty()) where += "/" + fault.part;
  return fmt::format("{}{}{}, {} for {}", fault.fault, where.empty() ? "" : " of ", where,
                     day_and_time(fault.at), spoken(fault.lasts));
}

std::string rehearsed_page(const Rehearsed& r, const Look& look) {
  std::string page = fmt::format("{}: {} rehearsed on a model of its tubs, seed {}\n",
                                 clean(r.site, look), spoken(r.length), r.seed);
  for (std::size_t air = 0; air < r.played.airs.size(); ++air) {
    for (std::size_t tub = 0; tub < r.played.airs[air].tubs.size(); ++tub) {
      page += "\n" + tub_part(r, air, tub, look);
    }
  }
  if (!r.faults.empty()) page += "\n" + inked("Faults\n", Ink::strong, look);
  for (const FaultLine& fault : r.faults) page += "  - " + fault_words(fault) + "\n";
  page += "\n" + inked("Assumed\n", Ink::strong, look);
  for (const std::string& text : r.assumed) {
    page += beside("  - ", clean(text, look), Ink::plain, look);
  }
  return page;
}

}  // namespace tubwarden::cli
