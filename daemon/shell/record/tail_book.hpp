// How much of each series lies in the tail of this boot, so that nobody has to look: when chunks
// are to be closed, and of which series.
// Threading: plain values. Failure: none.
#pragma once

#include <cstdint>
#include <map>

#include "shell/record/chunk_rows.hpp"

namespace tubwarden {

class TailBook {
 public:
  void add(std::int64_t series, std::int64_t at_ms) {
    auto [found, first] = series_.try_emplace(series);
    Of& of = found->second;
    const std::int64_t bin = bin_of(at_ms);
    if (first || at_ms < of.first_ms) of.first_ms = at_ms;
    if (first || bin > of.newest_bin) {
      of.whole = of.count;
      of.newest_bin = bin;
    }
    ++of.count;
    if (at_ms > newest_ms_) newest_ms_ = at_ms;
    due_ = due_ || of.whole >= kChunkSamples || of.count >= kChunkSamplesMax;
  }
  /// The tail is to be looked at anew; what time it is stays known.
  void clear() {
    series_.clear();
    due_ = false;
  }

  /// Some series has a chunk full, or a day has gone by.
  bool due() const {
    if (due_) return true;
    for (const auto& [id, of] : series_) {
      if (old(of)) return true;
    }
    return false;
  }
  /// Where one is full, those that are nearly so are closed with it: rows that lie together go
  /// together, and fewer pages are written.
  bool closes(std::int64_t series) const {
    const auto found = series_.find(series);
    if (found == series_.end()) return false;
    const Of& of = found->second;
    return of.whole >= kNearlyFull || of.count >= kChunkSamplesMax || old(of);
  }
  /// Of such a series, what lies before this time: its last five minutes may go on, unless they
  /// alone are more than a chunk, or all is old.
  std::int64_t until(std::int64_t series) const {
    const Of& of = series_.at(series);
    return of.whole >= kNearlyFull ? of.newest_bin * kBinMs : INT64_MAX;
  }
  /// The newest time of any reading; 0 before the first.
  std::int64_t newest_ms() const { return newest_ms_; }

 private:
  static constexpr std::size_t kNearlyFull = kChunkSamples * 5 / 6;
  struct Of {
    std::size_t count = 0;
    std::size_t whole = 0;  ///< before the newest five minutes
    std::int64_t newest_bin = 0;
    std::int64_t first_ms = 0;
  };
  /// Before it would span more than a chunk may.
  bool old(const Of& of) const { return newest_ms_ - of.first_ms > kChunkSpanMs / 24 * 23; }

  std::map<std::int64_t, Of> series_;
  std::int64_t newest_ms_ = 0;
  bool due_ = false;
};

}  // namespace tubwarden
