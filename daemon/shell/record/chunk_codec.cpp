#include "shell/record/chunk_codec.hpp"

#include <algorithm>
#include <numeric>
#include <optional>

#include "base/ensure.hpp"
#include "shell/record/bits.hpp"

namespace tubwarden {
namespace {

constexpr std::uint64_t kSamplesForm = 1;
constexpr std::uint64_t kBinsForm = 2;
constexpr std::size_t kSumBytes = 4;

/// Differences wrap: any two numbers have one, and it leads back.
std::int64_t less(std::int64_t a, std::int64_t b) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) - static_cast<std::uint64_t>(b));
}
std::int64_t plus(std::int64_t a, std::int64_t b) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(a) + static_cast<std::uint64_t>(b));
}
std::uint64_t size_of(std::int64_t v) {
  return v < 0 ? 0 - static_cast<std::uint64_t>(v) : static_cast<std::uint64_t>(v);
}
/// From the lower to the higher of two.
std::uint64_t above(std::int64_t high, std::int64_t low) {
  return static_cast<std::uint64_t>(high) - static_cast<std::uint64_t>(low);
}
std::int64_t times(std::int64_t v, std::uint64_t step) {
  return static_cast<std::int64_t>(static_cast<std::uint64_t>(v) * step);
}
/// Of a multiple of `step`.
std::int64_t in_steps(std::int64_t v, std::uint64_t step) {
  const std::uint64_t steps = size_of(v) / step;
  return static_cast<std::int64_t>(v < 0 ? 0 - steps : steps);
}

/// A column of numbers in Rice codes of one parameter.
struct Column {
  std::vector<std::uint64_t> values;
  unsigned k = 0;
  void fit(BitWriter& out) {
    k = best_rice(values);
    out.put(k, 8);
  }
};

std::uint32_t sum_of(std::int64_t first_ms, std::string_view body) {
  BitWriter head;
  head.put(static_cast<std::uint64_t>(first_ms), 64);
  return crc32(body, crc32(head.finish()));
}

std::string sealed(std::int64_t first_ms, std::string body) {
  const std::uint32_t sum = sum_of(first_ms, body);
  BitWriter tail;
  tail.put(sum, 8 * kSumBytes);
  return body + tail.finish();
}

/// The body of a blob that is as it was packed.
std::optional<std::string_view> opened(std::int64_t first_ms, std::string_view blob) {
  if (blob.size() <= kSumBytes) return std::nullopt;
  const std::string_view body = blob.substr(0, blob.size() - kSumBytes);
  BitReader tail(blob.substr(body.size()));
  if (tail.get(8 * kSumBytes) != sum_of(first_ms, body)) return std::nullopt;
  return body;
}

Error damaged() { return {ErrorCode::broken, "a chunk of readings is damaged"}; }

std::int64_t middle_of(std::vector<std::int64_t> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

unsigned read_k(BitReader& in, bool& sound) {
  const std::uint64_t k = in.get(8);
  sound = sound && k <= kRiceMax;
  return sound ? static_cast<unsigned>(k) : 0;
}

}  // namespace

void keep_last_of_equal(std::vector<Sample>& samples) {
  std::size_t kept = 0;
  for (const Sample& s : samples) {
    if (kept > 0 && samples[kept - 1].at_ms == s.at_ms) --kept;
    samples[kept++] = s;
  }
  samples.resize(kept);
}

std::string pack_samples(std::span<const Sample> samples) {
  ENSURE(!samples.empty() && samples.size() <= kPackedMax);
  std::vector<std::int64_t> intervals, changes;
  std::uint64_t step = 0;
  for (std::size_t i = 1; i < samples.size(); ++i) {
    intervals.push_back(less(samples[i].at_ms, samples[i - 1].at_ms));
    changes.push_back(less(samples[i].hundredths, samples[i - 1].hundredths));
    step = std::gcd(step, size_of(changes.back()));
  }
  step = std::max<std::uint64_t>(step, 1);
  const std::int64_t interval = middle_of(intervals);
  Column late, changed;
  for (std::size_t i = 0; i < changes.size(); ++i) {
    late.values.push_back(zigzag(less(intervals[i], interval)));
    changed.values.push_back(zigzag(in_steps(changes[i], step)));
  }
  BitWriter out;
  out.put(kSamplesForm, 8);
  out.varint(samples.size());
  out.varint(zigzag(samples[0].hundredths));
  out.varint(zigzag(interval));
  out.varint(step);
  late.fit(out);
  changed.fit(out);
  for (std::size_t i = 0; i < changes.size(); ++i) {
    out.rice(late.values[i], late.k);
    out.rice(changed.values[i], changed.k);
  }
  return sealed(samples[0].at_ms, out.finish());
}

Result<std::vector<Sample>> unpack_samples(std::int64_t first_ms, std::string_view blob) {
  const auto body = opened(first_ms, blob);
  if (!body) return damaged();
  BitReader in(*body);
  bool sound = in.get(8) == kSamplesForm;
  const std::uint64_t count = in.varint();
  Sample sample{first_ms, unzigzag(in.varint())};
  const std::int64_t interval = unzigzag(in.varint());
  const std::uint64_t step = in.varint();
  const unsigned late = read_k(in, sound);
  const unsigned changed = read_k(in, sound);
  if (!sound || count == 0 || count > kPackedMax || in.over()) return damaged();
  std::vector<Sample> samples{sample};
  samples.reserve(count);
  while (samples.size() < count) {
    sample.at_ms = plus(sample.at_ms, plus(unzigzag(in.rice(late)), interval));
    sample.hundredths = plus(sample.hundredths, times(unzigzag(in.rice(changed)), step));
    samples.push_back(sample);
  }
  if (in.over() || !in.done()) return damaged();
  return samples;
}

std::vector<Bin> bins_of(std::span<const Sample> samples) {
  std::vector<Bin> bins;
  std::int64_t sum = 0;  // of the differences from the bin's first: no sum of samples overflows
  std::int64_t first = 0;
  const auto close = [&] {
    if (bins.empty()) return;
    Bin& bin = bins.back();
    const std::int64_t twice = 2 * sum + bin.count;
    const bool below = twice % (2 * bin.count) < 0;
    bin.mean = first + twice / (2 * bin.count) - (below ? 1 : 0);
  };
  for (const Sample& s : samples) {
    const std::int64_t index = bin_of(s.at_ms);
    if (bins.empty() || bins.back().index != index) {
      close();
      bins.push_back({index, s.hundredths, 0, s.hundredths, 0});
      first = s.hundredths;
      sum = 0;
    }
    Bin& bin = bins.back();
    bin.low = std::min(bin.low, s.hundredths);
    bin.high = std::max(bin.high, s.hundredths);
    sum += s.hundredths - first;
    ++bin.count;
  }
  close();
  return bins;
}

std::string pack_bins(std::span<const Bin> bins) {
  ENSURE(!bins.empty() && bins.size() <= kPackedMax);
  std::uint64_t step = 0;
  std::vector<std::int64_t> counts;
  for (std::size_t i = 0; i < bins.size(); ++i) {
    if (i > 0) step = std::gcd(step, size_of(less(bins[i].low, bins[i - 1].low)));
    step = std::gcd(step, above(bins[i].high, bins[i].low));
    counts.push_back(bins[i].count);
  }
  step = std::max<std::uint64_t>(step, 1);
  const std::int64_t usual = middle_of(counts);
  Column gaps, lows, widths, means, numbers;
  for (std::size_t i = 0; i < bins.size(); ++i) {
    const Bin& bin = bins[i];
    const Bin& before = bins[i > 0 ? i - 1 : 0];
    gaps.values.push_back(i > 0 ? zigzag(less(less(bin.index, before.index), 1)) : 0);
    lows.values.push_back(zigzag(in_steps(less(bin.low, before.low), step)));
    widths.values.push_back(above(bin.high, bin.low) / step);
    means.values.push_back(above(bin.mean, bin.low));
    numbers.values.push_back(zigzag(less(bin.count, usual)));
  }
  BitWriter out;
  out.put(kBinsForm, 8);
  out.varint(bins.size());
  out.varint(zigzag(bins[0].low));
  out.varint(step);
  out.varint(zigzag(usual));
  for (Column* column : {&gaps, &lows, &widths, &means, &numbers}) column->fit(out);
  for (std::size_t i = 0; i < bins.size(); ++i) {
    for (const Column* column : {&gaps, &lows, &widths, &means, &numbers}) {
      out.rice(column->values[i], column->k);
    }
  }
  return sealed(bins[0].index, out.finish());
}

Result<std::vector<Bin>> unpack_bins(std::int64_t first_ms, std::string_view blob) {
  const auto body = opened(bin_of(first_ms), blob);
  if (!body) return damaged();
  BitReader in(*body);
  bool sound = in.get(8) == kBinsForm;
  const std::uint64_t count = in.varint();
  Bin bin;
  bin.low = unzigzag(in.varint());
  const std::uint64_t step = in.varint();
  const std::int64_t usual = unzigzag(in.varint());
  unsigned k[5];
  for (unsigned& each : k) each = read_k(in, sound);
  if (!sound || count == 0 || count > kPackedMax || in.over()) return damaged();
  std::vector<Bin> bins;
  bins.reserve(count);
  bin.index = less(bin_of(first_ms), 1);
  while (bins.size() < count) {
    bin.index = plus(bin.index, plus(unzigzag(in.rice(k[0])), 1));
    bin.low = plus(bin.low, times(unzigzag(in.rice(k[1])), step));
    bin.high = plus(bin.low, static_cast<std::int64_t>(in.rice(k[2]) * step));
    bin.mean = plus(bin.low, static_cast<std::int64_t>(in.rice(k[3])));
    bin.count = plus(usual, unzigzag(in.rice(k[4])));
    bins.push_back(bin);
  }
  if (in.over() || !in.done()) return damaged();
  return bins;
}

}  // namespace tubwarden
