#include "programs/cli/history_page.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kCellWidth = 6;
constexpr std::size_t kBlockWidth = 3 * kCellWidth;
constexpr std::size_t kLinesOfAPage = 25;

/// "humidity %", "air C": the column's heading.
std::string heading_of(Quantity q) {
  switch (q) {
    case Quantity::humidity:
      return "humidity, %";
    case Quantity::air_temperature:
      return "air, C";
    case Quantity::substrate_temperature:
      return "substrate, C";
    case Quantity::co2:
      return "CO2, ppm";
  }
  return "";
}

std::string figure(double value, Quantity q) {
  return fmt::format("{:.{}f}", value, q == Quantity::co2 ? 0 : 1);
}

/// "24 Nov 2026" of "24 Nov 2026 13:00:00".
std::string day_of_moment(WallTime at, const Look& look, bool with_year) {
  const std::string local = local_time(rfc3339(at), look, with_year);
  return local.substr(0, local.size() - 9);
}

}  // namespace

Duration usual_every(Duration span) {
  for (const Duration every :
       {Duration(minutes(5)), Duration(minutes(15)), Duration(minutes(30)), Duration(hours(1)),
        Duration(hours(3)), Duration(hours(6)), Duration(hours(12)), Duration(hours(24))}) {
    if (span <= every * kLinesOfAPage) return every;
  }
  return hours(24);
}

void HistoryPage::Cell::add(const HistoryValue& v) {
  low = count > 0 ? std::min(low, v.low) : v.low;
  high = count > 0 ? std::max(high, v.high) : v.high;
  sum += v.mean * v.count;
  count += v.count;
}

void HistoryPage::Cell::add(const Cell& other) {
  if (other.count <= 0) return;
  low = count > 0 ? std::min(low, other.low) : other.low;
  high = count > 0 ? std::max(high, other.high) : other.high;
  sum += other.sum;
  count += other.count;
}

Outcome HistoryPage::take(std::size_t stay, const HistoryPiece& piece) {
  auto& rows = rows_[stay];
  for (const HistoryOf& of : piece.series) {
    for (const HistoryValue& value : of.values) {
      const auto [row, fresh] = rows.try_emplace(floor_to(value.at, every_, zone_));
      row->second[index_of(of.quantity)].add(value);
      row_count_ += fresh ? 1 : 0;
    }
  }
  const Stay& where = stays_.stays.at(stay);
  for (const HistoryRun& run : piece.runs) add_run(where, run);
  unplaced_[where.chamber] = std::max(unplaced_[where.chamber], piece.unplaced);
  damaged_[where.chamber] = std::max(damaged_[where.chamber], piece.damaged);
  if (row_count_ <= kRowsMax) return Done{};
  return Error{
      ErrorCode::refused,
      fmt::format("that is a table of more than {} lines; name a longer --every, a shorter "
                  "time, or take it as --csv",
                  kRowsMax)};
}

/// A run that reaches out of the stay counts with what lies within; it started there only if it
/// began there. Tubs that share an air share its runs.
void HistoryPage::add_run(const Stay& stay, const HistoryRun& run) {
  const Output output{stay.chamber, run.id};
  const WallTime over = std::min(run.began + duration_cast<milliseconds>(run.lasted), stay.to);
  const WallTime begun = std::max(run.began, stay.from);
  if (over < begun || !runs_told_.first(stay.chamber + "/" + run.id, run.began)) return;
  Ran& ran = ran_[output];
  ran.starts += run.began >= stay.from ? 1 : 0;
  ran.lasted += over - begun;
  ran.now = ran.now || (run.now && stay.to == to_);
}

std::string HistoryPage::label(WallTime row, const Look& look) const {
  const std::string local = local_time(rfc3339(row), look);
  if (every_ >= hours(24)) return local.substr(0, local.size() - 9);
  return "  " + local.substr(local.size() - 8, every_ < minutes(1) ? 8 : 5);
}

std::string HistoryPage::heading(const Stay& stay, const Look& look) const {
  std::string told = stay.tub == stay.chamber ? "in its own air" : "in " + stay.chamber;
  if (stays_.kind == "chamber") told = "the air of " + stay.chamber;
  if (stays_.kind == "batch") told = stay.tub + " " + told;
  if (stays_.kind == "tub") told += ", batch " + stay.batch;
  const bool whole = stay.from == from_ && stay.to == to_;
  if (!whole) {
    const std::string begun = local_time(rfc3339(stay.from), look);
    const std::string over = local_time(rfc3339(stay.to), look);
    told += fmt::format(", {} to {}", begun.substr(0, begun.size() - 3),
                        over.substr(0, over.size() - 3));
  }
  return beside("", clean(told, look), Ink::strong, look);
}

std::string HistoryPage::rows(const std::map<WallTime, Cells>& of,
                              const std::vector<Quantity>& shown, const Look& look) const {
  const std::size_t label_width = columns(label(from_, look)) + 1;
  std::string head(label_width, ' '), under(label_width, ' ');
  for (const Quantity q : shown) {
    head += right(heading_of(q), kBlockWidth);
    under += right("least", kCellWidth) + right("mean", kCellWidth) + right("most", kCellWidth);
  }
  std::string page = inked(head, Ink::faint, look) + "\n" + inked(under, Ink::faint, look) + "\n";

  Cells all;
  const auto line = [&](const std::string& name, const Cells& cells) {
    std::string text = padded(name, label_width);
    for (const Quantity q : shown) {
      const Cell& c = cells[index_of(q)];
      for (const double value : {c.low, c.count > 0 ? c.sum / c.count : 0.0, c.high}) {
        text += right(c.count > 0 ? figure(value, q) : "-", kCellWidth);
      }
    }
    return text + "\n";
  };
  std::string day;
  std::optional<WallTime> last;
  for (const auto& [at, cells] : of) {
    for (const Quantity q : shown) all[index_of(q)].add(cells[index_of(q)]);
    if (last && at - *last > every_ + every_ / 2) {
      page += inked("  nothing was read in between", Ink::warn, look) + "\n";
    }
    last = at;
    if (every_ < hours(24) && day != day_of_moment(at, look, true)) {
      day = day_of_moment(at, look, true);
      page += inked(day, Ink::faint, look) + "\n";
    }
    page += line(label(at, look), cells);
  }
  if (of.size() > 1) page += inked(line("all", all), Ink::strong, look);
  return page;
}

/// As many quantities beside each other as fit; the others in further tables below.
std::string HistoryPage::table(std::size_t stay, const Look& look) const {
  const auto found = rows_.find(stay);
  if (found == rows_.end() || found->second.empty()) return "nothing was read in that time\n";
  std::vector<Quantity> shown;
  for (const Quantity q : kAllQuantities) {
    const bool any = std::any_of(found->second.begin(), found->second.end(), [&](const auto& row) {
      return row.second[index_of(q)].count > 0;
    });
    if (any) shown.push_back(q);
  }
  const std::size_t label_width = columns(label(from_, look)) + 1;
  const auto width = static_cast<std::size_t>(std::max(look.width, 0));
  const std::size_t fit =
      std::max<std::size_t>(1, width > label_width ? (width - label_width) / kBlockWidth : 1);
  std::string page;
  for (std::size_t i = 0; i < shown.size(); i += fit) {
    const auto end = std::min(shown.size(), i + fit);
    page += (i > 0 ? "\n" : "") + rows(found->second,
                                       {shown.begin() + static_cast<std::ptrdiff_t>(i),
                                        shown.begin() + static_cast<std::ptrdiff_t>(end)},
                                       look);
  }
  return page;
}

/// How long anything asked about stood in an air: two tubs in it at once count once.
Duration HistoryPage::stood_in(const std::string& chamber) const {
  Duration stood{0};
  WallTime counted{};
  std::vector<Stay> there;
  for (const Stay& stay : stays_.stays) {
    if (stay.chamber == chamber) there.push_back(stay);
  }
  std::sort(there.begin(), there.end(),
            [](const Stay& a, const Stay& b) { return a.from < b.from; });
  for (const Stay& stay : there) {
    const WallTime begun = std::max(stay.from, counted);
    if (stay.to > begun) stood += stay.to - begun;
    counted = std::max(counted, stay.to);
  }
  return stood;
}

std::string HistoryPage::outputs(const Look& look) const {
  if (ran_.empty()) return "No output ran in that time.\n";
  const std::string first = ran_.begin()->first.first;
  const bool one_air =
      std::all_of(ran_.begin(), ran_.end(), [&](const auto& r) { return r.first.first == first; });
  const auto name = [&](const Output& o) {
    return clean(one_air ? o.second : o.first + "/" + o.second, look);
  };
  std::size_t width = columns("output");
  for (const auto& [output, ran] : ran_) width = std::max(width, columns(name(output)));
  const auto line = [&](const std::string& what, const std::string& starts, const std::string& ran,
                        const std::string& share) {
    return padded(what, width) + right(starts, 8) + right(ran, 11) + right(share, 9);
  };
  std::string page = inked(line("output", "starts", "ran", "share"), Ink::faint, look) + "\n";
  for (const auto& [output, ran] : ran_) {
    const Duration stood = std::max<Duration>(stood_in(output.first), seconds(1));
    const double share = 100.0 * seconds_of(ran.lasted) / seconds_of(stood);
    page += line(name(output), std::to_string(ran.starts),
                 spoken(duration_cast<seconds>(ran.lasted)), fmt::format("{:.1f} %", share)) +
            (ran.now ? "  now" : "") + "\n";
  }
  return page;
}

std::string HistoryPage::notes(const Look& look) const {
  std::string told;
  const auto say = [&](const std::string& text) {
    told += beside(inked("noted ", Ink::warn, look), clean(text, look), Ink::plain, look);
  };
  for (const auto& [chamber, count] : unplaced_) {
    if (count <= 0) continue;
    say(fmt::format(
        "{:.0f} readings of {} were made before the clock was set and never found their "
        "time; they are not among these",
        count, chamber));
  }
  for (const auto& [chamber, count] : damaged_) {
    if (count <= 0) continue;
    say(fmt::format(
        "{:.0f} parts of the record of {} cannot be read; what they held is missing here", count,
        chamber));
  }
  if (stays_.untimed > 0) {
    say(fmt::format("{:.0f} of its stays have no known time and are left out", stays_.untimed));
  }
  return told.empty() ? "" : "\n" + told;
}

std::string HistoryPage::told(const Look& look) const {
  const std::string begun = local_time(rfc3339(from_), look, true);
  const std::string over = local_time(rfc3339(to_), look, true);
  std::string page =
      beside(inked(clean(stays_.of, look), Ink::strong, look) + "  ",
             fmt::format("{} to {}, a line for each {}", begun.substr(0, begun.size() - 3),
                         over.substr(0, over.size() - 3), spoken(every_)),
             Ink::plain, look);
  if (stays_.stays.empty()) {
    return page + "\nIt stood in no air in that time.\n" + notes(look);
  }
  for (std::size_t i = 0; i < stays_.stays.size(); ++i) {
    page += "\n" + heading(stays_.stays[i], look) + table(i, look);
  }
  return page + "\n" + outputs(look) + notes(look);
}

}  // namespace tubwarden::cli
