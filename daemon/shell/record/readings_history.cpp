// Questions to the readings' file.
#include <algorithm>
#include <span>

#include "shell/record/clock_offset.hpp"
#include "shell/record/fold.hpp"
#include "shell/record/readings_file.hpp"
#include "shell/record/record_file.hpp"

namespace tubwarden {
namespace {

/// From this range and width on, the means answer also where the readings are kept.
constexpr std::int64_t kLongMs = 3 * 24 * 3'600'000;

Stamp stamp_of(const std::string& boot_id, std::optional<std::int64_t> offset_ms,
               std::int64_t at_ms) {
  return {WallTime(milliseconds(at_ms + offset_ms.value_or(0))), offset_ms.has_value(), boot_id,
          Instant(milliseconds(at_ms))};
}

/// Two readings of one time are one: the last that was told.
void in_order(std::vector<Sample>& samples) {
  std::stable_sort(samples.begin(), samples.end(),
                   [](const Sample& a, const Sample& b) { return a.at_ms < b.at_ms; });
  keep_last_of_equal(samples);
}

/// Parts of one five minutes that lie in two chunks are one.
void in_order(std::vector<Bin>& bins) {
  std::stable_sort(bins.begin(), bins.end(),
                   [](const Bin& a, const Bin& b) { return a.index < b.index; });
  std::size_t kept = 0;
  for (const Bin& bin : bins) {
    if (kept == 0 || bins[kept - 1].index != bin.index) {
      bins[kept++] = bin;
      continue;
    }
    Bin& joined = bins[kept - 1];
    const std::int64_t count = joined.count + bin.count;
    if (count > 0) joined.mean = (joined.mean * joined.count + bin.mean * bin.count) / count;
    joined.low = std::min(joined.low, bin.low);
    joined.high = std::max(joined.high, bin.high);
    joined.count = count;
  }
  bins.resize(kept);
}

}  // namespace

std::vector<ReadingsFile::Source> ReadingsFile::sources(const HistoryAsk& ask) {
  std::vector<Source> found;
  sql::Statement s(db_, "select id, sensor, quantity from series where chamber=? order by id");
  s.bind(ask.chamber);
  while (s.step()) {
    const auto quantity = quantity_named(s.text(2));
    if (!quantity || (ask.quantity && *ask.quantity != *quantity)) continue;
    found.push_back({s.integer(0), s.text(1), *quantity});
  }
  return found;
}

ReadingsFile::Tail ReadingsFile::read_tail(const std::vector<Source>& sources) {
  Tail tail;
  sql::Statement s(db_, "select series, boot, at_ms, hundredths from tail order by id");
  while (s.step()) {
    const std::int64_t series = s.integer(0);
    const bool asked = std::any_of(sources.begin(), sources.end(),
                                   [&](const Source& source) { return source.id == series; });
    if (asked) tail[{series, s.integer(1)}].push_back({s.integer(2), s.integer(3)});
  }
  return tail;
}

/// False, and nothing read, when two chunks reach into each other and were not read as written:
/// of two readings of one time the last that was told counts.
bool ReadingsFile::read_chunks(const Part& part, std::size_t limit, bool as_written, Found& found) {
  const std::string question =
      "select id, first_ms, packed, last_ms from chunk where series=? and boot=? and first_ms>=? "
      "and first_ms<? and last_ms>=? order by ";
  sql::Statement s(db_, (question + (as_written ? "id" : "first_ms, id")).c_str());
  sql::Statement means(db_, "select first_ms, packed from means where id=?");
  s.bind(part.series, part.boot, part.from_ms - kChunkSpanMs, part.to_ms, part.from_ms);
  Found read;
  std::int64_t over = INT64_MIN;
  while (read.samples.size() <= limit && s.step()) {
    if (!as_written && s.integer(1) <= over) return false;
    over = s.integer(3);
    const auto samples = unpack_samples(s.integer(1), s.blob(2));
    if (samples.ok()) {
      read.add(*samples, part);
      continue;
    }
    ++read.damaged;
    if (!means.bind(s.integer(0)).step()) continue;
    if (const auto bins = unpack_bins(means.integer(0), means.blob(1)); bins.ok()) {
      read.add(*bins, part);
    }
  }
  found.take(std::move(read));
  return true;
}

void ReadingsFile::read_means(const Part& part, bool all, Found& found) {
  sql::Statement s(db_,
                   "select id, first_ms, packed from means m where series=? and boot=? and "
                   "first_ms>=? and first_ms<? and last_ms>=? and (? or not exists (select 1 from "
                   "chunk c where c.id=m.id)) order by first_ms, id");
  sql::Statement chunk(db_, "select first_ms, packed from chunk where id=?");
  // A bin reaches beyond its samples.
  s.bind(part.series, part.boot, part.from_ms - kChunkSpanMs - kBinMs, part.to_ms + kBinMs,
         part.from_ms - kBinMs, all);
  while (s.step()) {
    const auto bins = unpack_bins(s.integer(1), s.blob(2));
    if (bins.ok()) {
      found.add(*bins, part);
      continue;
    }
    ++found.damaged;
    if (!chunk.bind(s.integer(0)).step()) continue;
    if (const auto samples = unpack_samples(chunk.integer(0), chunk.blob(1)); samples.ok()) {
      found.add(bins_of(*samples), part);
    }
  }
}

void ReadingsFile::Found::take(Found&& more) {
  samples.insert(samples.end(), more.samples.begin(), more.samples.end());
  bins.insert(bins.end(), more.bins.begin(), more.bins.end());
  damaged += more.damaged;
}

void ReadingsFile::Found::add(std::span<const Sample> more, const Part& part) {
  for (const Sample& s : more) {
    if (s.at_ms >= part.from_ms && s.at_ms < part.to_ms) samples.push_back(s);
  }
}

void ReadingsFile::Found::add(std::span<const Bin> more, const Part& part) {
  for (const Bin& bin : more) {
    const std::int64_t middle = bin.index * kBinMs + kBinMs / 2;
    if (middle >= part.from_ms && middle < part.to_ms) bins.push_back(bin);
  }
}

HistorySeries ReadingsFile::series_of(const HistoryAsk& ask, const Source& source,
                                      const std::vector<Boot>& boots, const Tail& tail,
                                      std::size_t limit, History& history) {
  const std::int64_t width = ask.width.count(), range = ms_of(ask.to) - ms_of(ask.from);
  const bool by_means = width >= kBinMs && range > kLongMs;
  Fold fold(ms_of(ask.from), width, limit);
  for (const Boot& b : boots) {
    if (!b.offset_ms) continue;
    const std::int64_t ahead = *b.offset_ms;
    const Part part{source.id, b.id, boot_ms(ask.from, ahead), boot_ms(ask.to, ahead)};
    Found found;
    read_means(part, by_means, found);
    const std::size_t most = width > 0 ? SIZE_MAX : limit;
    if (!by_means && !read_chunks(part, most, false, found)) read_chunks(part, most, true, found);
    if (const auto open = tail.find({source.id, b.id}); open != tail.end()) {
      found.add(open->second, part);
    }
    history.damaged += found.damaged;
    in_order(found.bins);
    in_order(found.samples);
    for (const Bin& bin : found.bins) fold.add(bin, ahead);
    for (const Sample& sample : found.samples) fold.add(sample, ahead);
  }
  history.cut = history.cut || fold.cut();
  return {ask.chamber, source.sensor, source.quantity, fold.take_points()};
}

std::uint64_t ReadingsFile::unplaced(const std::vector<Source>& sources,
                                     const std::vector<Boot>& boots, const Tail& tail) {
  std::int64_t count = 0;
  sql::Statement s(db_, "select coalesce(sum(count), 0) from chunk where series=? and boot=?");
  for (const Boot& b : boots) {
    if (b.offset_ms) continue;
    for (const Source& source : sources) {
      s.bind(source.id, b.id).step();
      count += s.integer(0);
      if (const auto open = tail.find({source.id, b.id}); open != tail.end()) {
        count += static_cast<std::int64_t>(open->second.size());
      }
    }
  }
  return static_cast<std::uint64_t>(count);
}

std::vector<RunRow> ReadingsFile::runs(const HistoryAsk& ask, const std::vector<Boot>& boots,
                                       bool& cut) {
  std::vector<RunRow> rows;
  sql::Statement s(
      db_,
      "select o.actuator, r.level, r.began_ms, r.lasted_ms from output o join run r on "
      "r.output=o.id where o.chamber=?1 and r.boot=?2 and r.began_ms<?4 and "
      "(r.began_ms>=?3 or r.began_ms+r.lasted_ms>?3) order by r.began_ms, r.id");
  for (const Boot& b : boots) {
    if (!b.offset_ms) continue;
    s.bind(ask.chamber, b.id, boot_ms(ask.from, *b.offset_ms), boot_ms(ask.to, *b.offset_ms));
    while (s.step()) {
      if (rows.size() >= kHistoryPointsMax) {
        cut = true;
        return rows;
      }
      rows.push_back({ask.chamber, s.text(0), static_cast<Level>(s.integer(1)),
                      stamp_of(b.boot_id, b.offset_ms, s.integer(2)), milliseconds(s.integer(3))});
    }
  }
  return rows;
}

History ReadingsFile::history(const HistoryAsk& ask) {
  History history;
  std::vector<Boot> all = boots();
  std::reverse(all.begin(), all.end());
  const std::vector<Source> asked = sources(ask);
  const Tail tail = read_tail(asked);
  history.unplaced = unplaced(asked, all, tail);
  if (ask.from >= ask.to) return history;
  std::size_t left = kHistoryPointsMax;
  for (const Source& source : asked) {
    history.series.push_back(series_of(ask, source, all, tail, left, history));
    left -= history.series.back().points.size();
  }
  std::erase_if(history.series, [](const HistorySeries& s) { return s.points.empty(); });
  history.runs = runs(ask, all, history.cut);
  return history;
}

std::vector<DecisionRow> ReadingsFile::decisions(const std::string& chamber,
                                                 const std::string& actuator,
                                                 std::optional<WallTime> before,
                                                 std::size_t limit) {
  std::vector<std::pair<std::int64_t, std::string>> outputs;
  sql::Statement named(
      db_, "select id, actuator from output where chamber=? and (?2='' or actuator=?2)");
  named.bind(chamber, actuator);
  while (named.step()) outputs.emplace_back(named.integer(0), named.text(1));

  std::vector<DecisionRow> rows;
  sql::Statement s(db_,
                   "select at_ms, level, why from decision where output=? and boot=? and at_ms<? "
                   "order by at_ms desc, id desc limit ?");
  for (const Boot& b : boots()) {  // boots follow each other, so the newest hold the newest rows
    if (rows.size() >= limit) break;
    if (before && !b.offset_ms) continue;  // whether it was before cannot be told
    const std::int64_t until = before ? boot_ms(*before, *b.offset_ms) : INT64_MAX;
    const std::size_t begun = rows.size();
    for (const auto& [id, name] : outputs) {
      s.bind(id, b.id, until, static_cast<std::int64_t>(limit));
      while (s.step()) {
        rows.push_back({chamber, name, static_cast<Level>(s.integer(1)), s.text(2),
                        stamp_of(b.boot_id, b.offset_ms, s.integer(0))});
      }
    }
    std::stable_sort(rows.begin() + static_cast<std::ptrdiff_t>(begun), rows.end(),
                     [](const auto& x, const auto& y) { return x.stamp.boot > y.stamp.boot; });
  }
  if (rows.size() > limit) rows.resize(limit);
  return rows;
}

}  // namespace tubwarden
