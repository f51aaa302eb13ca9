#include "programs/cli/history.hpp"

#include <algorithm>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

/// A first guess of what one answer holds; then the answers themselves tell.
constexpr milliseconds kFirstPiece = hours(1);
constexpr milliseconds kLongestPiece = hours(24 * 30);
constexpr milliseconds kShortestPiece = minutes(1);
constexpr std::size_t kFewPoints = 2500;
constexpr int kWidthsAPiece = 2000;

std::optional<WallTime> moment(const Json& object, const char* name) {
  return parse_rfc3339(text(object, name));
}

std::optional<Quantity> quantity_named(const std::string& name) {
  for (const Quantity q : kAllQuantities) {
    if (name_of(q) == name) return q;
  }
  return std::nullopt;
}

/// [at, value], or [at, low, mean, high, count].
std::optional<HistoryValue> value_of(const Json& point) {
  if (!point.is_array() || point.empty() || !point[0].is_string()) return std::nullopt;
  const auto when = parse_rfc3339(point[0].get<std::string>());
  const auto first = at(point, 1);
  if (!when || !first) return std::nullopt;
  const auto mean = at(point, 2), high = at(point, 3), count = at(point, 4);
  if (!mean || !high || !count) return HistoryValue{*when, *first, *first, *first, 1.0};
  return HistoryValue{*when, *first, *mean, *high, *count};
}

HistoryPiece piece_of(const Json& answer) {
  HistoryPiece piece;
  for (const Json& series : list(answer, "series")) {
    const auto quantity = quantity_named(text(series, "quantity"));
    if (!quantity) continue;
    HistoryOf of{text(series, "sensor"), *quantity, {}};
    for (const Json& point : list(series, "points")) {
      if (const auto value = value_of(point)) of.values.push_back(*value);
    }
    piece.series.push_back(std::move(of));
  }
  for (const Json& run : list(answer, "runs")) {
    const auto began = moment(run, "began");
    if (!began) continue;
    piece.runs.push_back({text(run, "id"), number(run, "level_pct").value_or(0), *began,
                          from_seconds(number(run, "lasted_s").value_or(0)), yes(run, "now")});
  }
  piece.unplaced = number(answer, "unplaced").value_or(0);
  piece.damaged = number(answer, "damaged").value_or(0);
  return piece;
}

std::size_t points_in(const HistoryPiece& piece) {
  std::size_t points = piece.runs.size();
  for (const HistoryOf& of : piece.series) points += of.values.size();
  return points;
}

struct Answered {
  HistoryPiece piece;
  WallTime end{};
};

Result<Answered> ask_piece(const AskDaemon& ask, const std::string& chamber, WallTime from,
                           WallTime to, Duration every) {
  const Json args = {{"chamber", chamber},
                     {"from", rfc3339(from)},
                     {"to", rfc3339(to)},
                     {"every_s", seconds_of(every)}};
  const auto answer = ask("history", args.dump());
  if (!answer.ok()) return answer.error();
  const auto json = parsed(*answer, "series");
  if (!json.ok()) return json.error();
  const auto next = moment(*json, "next");
  return Answered{piece_of(*json), next && *next > from ? *next : to};
}

}  // namespace

bool RunsTold::first(const std::string& output, WallTime began) {
  std::set<WallTime>& told = told_[output];
  const auto near = told.lower_bound(began - kSame);
  if (near != told.end() && *near <= began + kSame) return false;
  told.insert(began);
  return true;
}

WallTime floor_to(WallTime at, Duration every, Zone zone) {
  const auto width = duration_cast<milliseconds>(every);
  const auto east = duration_cast<milliseconds>(zone(at));
  const auto local = at.time_since_epoch() + east;
  auto whole = local / width;
  if (local < milliseconds(0) && local % width != milliseconds(0)) --whole;
  // At that whole time the clock may have stood another way.
  const WallTime guess(whole * width - east);
  return WallTime(whole * width - duration_cast<milliseconds>(zone(guess)));
}

Result<Stays> ask_stays(const AskDaemon& ask, const std::string& of, WallTime from, WallTime to) {
  const Json args = {{"of", of}};
  const auto answer = ask("stays", args.dump(-1, ' ', false, Json::error_handler_t::replace));
  if (!answer.ok()) return answer.error();
  const auto json = parsed(*answer, "stays");
  if (!json.ok()) return json.error();
  Stays stays{text(*json, "of"), text(*json, "kind"), {}, number(*json, "untimed").value_or(0)};
  for (const Json& stay : list(*json, "stays")) {
    const WallTime begun = std::max(moment(stay, "from").value_or(from), from);
    const WallTime over = std::min(moment(stay, "to").value_or(to), to);
    if (begun >= over) continue;
    stays.stays.push_back(
        {text(stay, "tub"), text(stay, "chamber"), text(stay, "batch"), begun, over});
  }
  return stays;
}

namespace {

/// Where a piece that begins at `from` ends, so that values begin at whole times: at the next whole
/// time if `from` is none, and where the clocks change.
WallTime whole_end(WallTime from, WallTime to, milliseconds width, Zone zone) {
  const WallTime whole = floor_to(from, width, zone);
  if (whole != from) {
    WallTime next = whole + width;
    if (next <= from) next = floor_to(from + width, width, zone);  // the day of 25 hours
    return std::min(to, next > from ? next : from + width);
  }
  if (zone(from) == zone(to)) return to;
  WallTime same = from, other = to;
  while (other - same > milliseconds(1)) {
    const WallTime middle = same + (other - same) / 2;
    (zone(middle) == zone(from) ? same : other) = middle;
  }
  return other;
}

}  // namespace

Outcome read_stay(const AskDaemon& ask, const Stay& stay, Duration every, Zone zone,
                  const std::function<Outcome(const HistoryPiece&)>& take) {
  const bool raw = every <= Duration{0};
  const auto width = duration_cast<milliseconds>(every);
  milliseconds length = raw ? kFirstPiece : width * kWidthsAPiece;
  WallTime from = stay.from;
  while (from < stay.to) {
    WallTime to = std::min(from + length, stay.to);
    if (!raw) to = whole_end(from, to, width, zone);
    auto answered = ask_piece(ask, stay.chamber, from, to, every);
    if (!answered.ok()) {
      const bool too_much = answered.error().code == ErrorCode::refused;
      if (!too_much || to - from <= std::max(width, kShortestPiece)) return answered.error();
      length = (to - from) / 2;
      if (!raw) length = std::max(length / width, std::int64_t{1}) * width;
      continue;
    }
    if (const Outcome taken = take(answered->piece); !taken.ok()) return taken;
    if (raw && points_in(answered->piece) < kFewPoints) {
      length = std::min(length * 2, kLongestPiece);
    }
    from = answered->end;
  }
  return Done{};
}

}  // namespace tubwarden::cli
