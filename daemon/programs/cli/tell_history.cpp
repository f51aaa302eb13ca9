#include "programs/cli/tell_history.hpp"

#include <fmt/format.h>

#include <map>

#include "programs/cli/history_export.hpp"
#include "programs/cli/history_page.hpp"

namespace tubwarden::cli {
namespace {

using Take = std::function<Outcome(std::size_t stay, const HistoryPiece&)>;

Outcome read_all(const HistoryWays& ways, const Stays& stays, Duration every, Zone zone,
                 const Take& take) {
  for (std::size_t i = 0; i < stays.stays.size(); ++i) {
    const Outcome read = read_stay(ways.ask, stays.stays[i], every, zone,
                                   [&](const HistoryPiece& piece) { return take(i, piece); });
    if (!read.ok()) return read;
  }
  return Done{};
}

/// What is not in the lines, beside them.
void note_missing(const HistoryWays& ways, const Stays& stays,
                  const std::map<std::string, HistoryPiece>& missing) {
  if (stays.stays.empty()) ways.note(stays.of + " stood in no air in that time");
  if (stays.untimed > 0) {
    ways.note(
        fmt::format("{:.0f} of its stays have no known time and are left out", stays.untimed));
  }
  for (const auto& [chamber, piece] : missing) {
    if (piece.unplaced > 0) {
      ways.note(
          fmt::format("{:.0f} readings of {} were made before the clock was set and never "
                      "found their time; they are left out",
                      piece.unplaced, chamber));
    }
    if (piece.damaged > 0) {
      ways.note(
          fmt::format("{:.0f} parts of the record of {} cannot be read; what they held is "
                      "missing",
                      piece.damaged, chamber));
    }
  }
}

int tell_csv(const HistoryWays& ways, const HistoryWish& wish, const Stays& stays, Zone zone) {
  const Duration every = wish.every.value_or(Duration{0});
  const bool by_width = every > Duration{0};
  std::map<std::string, HistoryPiece> missing;
  int status = ways.print(csv_header(by_width));
  if (status != 0) return status;
  const Outcome read = read_all(ways, stays, every, zone, [&](auto stay, const auto& piece) {
    const Stay& where = stays.stays[stay];
    HistoryPiece& left = missing[where.chamber];
    left.unplaced = std::max(left.unplaced, piece.unplaced);
    left.damaged = std::max(left.damaged, piece.damaged);
    status = ways.print(csv_rows(where, piece, by_width));
    // print() has told why.
    return status == 0 ? Outcome(Done{}) : Outcome(Error{ErrorCode::unavailable, ""});
  });
  if (status != 0) return status;
  if (!read.ok()) return ways.failed(read.error());
  note_missing(ways, stays, missing);
  return 0;
}

}  // namespace

int tell_history(const HistoryWays& ways, const HistoryWish& wish, bool json, const Look& look) {
  const auto stays = ask_stays(ways.ask, wish.of, wish.from, wish.to);
  if (!stays.ok()) return ways.failed(stays.error());
  const Zone zone = look.east_of_utc;
  if (wish.csv) return tell_csv(ways, wish, *stays, zone);

  const Duration every = wish.every.value_or(usual_every(wish.to - wish.from));
  if (json) {
    HistoryJson answer(*stays, wish.from, wish.to, every);
    const Outcome read = read_all(ways, *stays, every, zone, [&](auto stay, const auto& piece) {
      return answer.take(stay, piece);
    });
    return read.ok() ? ways.print(answer.told()) : ways.failed(read.error());
  }
  HistoryPage page(*stays, wish.from, wish.to, every, zone);
  const Outcome read = read_all(ways, *stays, every, zone, [&](auto stay, const auto& piece) {
    return page.take(stay, piece);
  });
  return read.ok() ? ways.print(page.told(look)) : ways.failed(read.error());
}

}  // namespace tubwarden::cli
