#include "shell/record/chunk_rows.hpp"

namespace tubwarden {
namespace {

std::int64_t next_id(sql::Database& db) {
  sql::Statement s(db,
                   "select max(coalesce((select max(id) from chunk), 0), "
                   "coalesce((select max(id) from means), 0))");
  s.step();
  return s.integer(0) + 1;
}

}  // namespace

ChunkRows::ChunkRows(sql::Database& db)
    : chunk_(db, "insert into chunk values(?,?,?,?,?,?,?)"),
      means_(db, "insert into means values(?,?,?,?,?,?)"),
      next_id_(next_id(db)) {}

void ChunkRows::write(std::int64_t series, std::int64_t boot, std::span<const Sample> samples) {
  std::size_t begun = 0;
  for (std::size_t i = 1; i < samples.size(); ++i) {
    const std::size_t count = i - begun;
    const bool new_bin = bin_of(samples[i].at_ms) != bin_of(samples[i - 1].at_ms);
    const bool full = count >= kChunkSamplesMax || (count >= kChunkSamples && new_bin) ||
                      samples[i].at_ms - samples[begun].at_ms > kChunkSpanMs;
    if (!full) continue;
    write_one(series, boot, samples.subspan(begun, count));
    begun = i;
  }
  if (begun < samples.size()) write_one(series, boot, samples.subspan(begun));
}

void ChunkRows::write_one(std::int64_t series, std::int64_t boot, std::span<const Sample> samples) {
  const std::int64_t first = samples.front().at_ms, last = samples.back().at_ms;
  const std::int64_t id = next_id_++;
  chunk_
      .bind(id, series, boot, first, last, static_cast<std::int64_t>(samples.size()),
            sql::Blob{pack_samples(samples)})
      .run();
  means_.bind(id, series, boot, first, last, sql::Blob{pack_bins(bins_of(samples))}).run();
}

}  // namespace tubwarden
