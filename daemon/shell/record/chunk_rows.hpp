// Readings of one series into rows of chunks, and beside each the means of its five minutes.
// Threading: the readings' thread, within a transaction. Failure: throws SqlError.
#pragma once

#include <cstdint>
#include <span>

#include "shell/record/chunk_codec.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

/// A chunk is closed at the first end of five minutes where it holds this many, ...
inline constexpr std::size_t kChunkSamples = 360;
/// ... or where it holds this many, ...
inline constexpr std::size_t kChunkSamplesMax = 720;
/// ... or spans this: a question looks no further back for a chunk that reaches into its time.
inline constexpr std::int64_t kChunkSpanMs = 24 * 3'600'000;

class ChunkRows {
 public:
  explicit ChunkRows(sql::Database& db);
  /// Samples of one series and boot, each later than the one before.
  void write(std::int64_t series, std::int64_t boot, std::span<const Sample> samples);

 private:
  void write_one(std::int64_t series, std::int64_t boot, std::span<const Sample> samples);

  sql::Statement chunk_, means_;
  std::int64_t next_id_;  ///< a chunk and its means have the same
};

}  // namespace tubwarden
