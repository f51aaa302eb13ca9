// Chunks of readings: what is packed comes back to the last hundredth and millisecond, and a blob
// that is not as it was packed is an error.
#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <random>

#include "shell/record/bits.hpp"
#include "shell/record/chunk_codec.hpp"

namespace {

using namespace tubwarden;

constexpr std::int64_t kLeast = std::numeric_limits<std::int64_t>::min();
constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();

void expect_back(const std::vector<Sample>& samples, const std::string& what) {
  const auto back = unpack_samples(samples.front().at_ms, pack_samples(samples));
  ASSERT_TRUE(back.ok()) << what;
  ASSERT_EQ(*back, samples) << what;
}

void expect_bins_back(const std::vector<Bin>& bins, const std::string& what) {
  const auto back = unpack_bins(bins.front().index * kBinMs, pack_bins(bins));
  ASSERT_TRUE(back.ok()) << what;
  ASSERT_EQ(*back, bins) << what;
}

/// A sensor that speaks about each ten seconds, with noise and now and then a gap.
std::vector<Sample> like_a_sensor(std::mt19937_64& dice, std::size_t count) {
  std::normal_distribution<double> noise(0.0, 8.0);
  std::uniform_int_distribution<int> late(-20, 20);
  std::vector<Sample> samples;
  std::int64_t at = 5'000'000;
  double value = 8700.0;
  for (std::size_t i = 0; i < count; ++i) {
    at += 10'000 + late(dice) + (i % 97 == 96 ? 3'600'000 : 0);
    value += noise(dice) / 4;
    samples.push_back({at, static_cast<std::int64_t>(value + noise(dice))});
  }
  return samples;
}

TEST(ChunkCodec, WhatASensorSaysComesBack) {
  std::mt19937_64 dice(1);
  for (const std::size_t count : {1U, 2U, 3U, 59U, 360U, 361U, 4096U}) {
    expect_back(like_a_sensor(dice, count), std::to_string(count) + " samples");
  }
}

TEST(ChunkCodec, AnythingInOrderComesBack) {
  std::mt19937_64 dice(2);
  for (int round = 0; round < 500; ++round) {
    std::vector<Sample> samples;
    std::int64_t at = static_cast<std::int64_t>(dice()) >> (dice() % 64);
    const std::size_t count = 1 + dice() % 400;
    while (samples.size() < count && at < kMost / 2) {
      samples.push_back({at, static_cast<std::int64_t>(dice()) >> (dice() % 64)});
      at += 1 + static_cast<std::int64_t>(dice() >> (1 + dice() % 63)) / 1024;
    }
    if (samples.empty()) continue;
    expect_back(samples, "round " + std::to_string(round));
  }
}

TEST(ChunkCodec, TheEndsOfNumbersComeBack) {
  expect_back({{kLeast, kLeast}, {kMost, kMost}}, "from end to end");
  expect_back({{kLeast, kMost}, {0, kLeast}, {kMost, 0}}, "and over the middle");
  expect_back({{0, 0}, {1, kLeast}, {2, kLeast}, {3, 0}}, "one step of the greatest size");
  expect_back({{kMost, 5}}, "one alone");
}

TEST(ChunkCodec, ASteadySensorIsAlmostNothing) {
  std::vector<Sample> samples;
  for (std::int64_t i = 0; i < 360; ++i) samples.push_back({i * 10'000, 42'000});
  EXPECT_LE(pack_samples(samples).size(), 110U) << "two bits a sample, and the head";
  // A CO2 sensor of whole ppm: its hundredths are no information.
  std::mt19937_64 dice(3);
  for (Sample& s : samples) s.hundredths = 100 * (800 + static_cast<std::int64_t>(dice() % 4));
  const std::size_t coarse = pack_samples(samples).size();
  for (Sample& s : samples) s.hundredths /= 100;
  EXPECT_LE(coarse, pack_samples(samples).size() + 8);
}

TEST(ChunkCodec, ARealisticChunkIsSmall) {
  std::mt19937_64 dice(4);
  const auto samples = like_a_sensor(dice, 360);
  EXPECT_LE(static_cast<double>(pack_samples(samples).size()) / 360.0, 2.0);
}

TEST(ChunkCodec, EveryFlippedBitIsAnError) {
  std::mt19937_64 dice(5);
  const auto samples = like_a_sensor(dice, 120);
  const std::string blob = pack_samples(samples);
  const auto bins = bins_of(samples);
  const std::string packed_bins = pack_bins(bins);
  for (std::size_t bit = 0; bit < blob.size() * 8; ++bit) {
    std::string flipped = blob;
    flipped[bit / 8] = static_cast<char>(flipped[bit / 8] ^ (1 << (bit % 8)));
    ASSERT_FALSE(unpack_samples(samples[0].at_ms, flipped).ok()) << bit;
  }
  for (std::size_t bit = 0; bit < packed_bins.size() * 8; ++bit) {
    std::string flipped = packed_bins;
    flipped[bit / 8] = static_cast<char>(flipped[bit / 8] ^ (1 << (bit % 8)));
    ASSERT_FALSE(unpack_bins(samples[0].at_ms, flipped).ok()) << bit;
  }
}

TEST(ChunkCodec, ACutBlobAWrongTimeAndAnotherKindAreErrors) {
  std::mt19937_64 dice(6);
  const auto samples = like_a_sensor(dice, 120);
  const std::string blob = pack_samples(samples);
  const std::int64_t first = samples[0].at_ms;
  for (std::size_t size = 0; size < blob.size(); ++size) {
    ASSERT_FALSE(unpack_samples(first, blob.substr(0, size)).ok()) << size;
  }
  EXPECT_FALSE(unpack_samples(first + 1, blob).ok());
  EXPECT_FALSE(unpack_samples(first, blob + '\0').ok());
  EXPECT_FALSE(unpack_bins(first, blob).ok());
  const auto bins = bins_of(samples);
  EXPECT_FALSE(unpack_samples(bins[0].index, pack_bins(bins)).ok());
}

/// A body that was damaged before it was summed: the checksum does not save the reader.
std::string summed(std::int64_t first, const std::string& body) {
  BitWriter head, tail;
  head.put(static_cast<std::uint64_t>(first), 64);
  tail.put(crc32(body, crc32(head.finish())), 32);
  return body + tail.finish();
}

TEST(ChunkCodec, NoBodyMakesTheReaderCrashOrLoop) {
  std::mt19937_64 dice(7);
  const auto samples = like_a_sensor(dice, 60);
  const std::string blob = pack_samples(samples);
  const std::string packed_bins = pack_bins(bins_of(samples));
  int read = 0;
  for (int round = 0; round < 20'000; ++round) {
    std::string body = round % 2 ? blob : packed_bins;
    body.resize(body.size() - 4);
    const std::size_t changes = 1 + dice() % 6;
    for (std::size_t i = 0; i < changes; ++i) {
      body[dice() % std::min<std::size_t>(body.size(), 24)] = static_cast<char>(dice());
    }
    const auto as_samples = unpack_samples(9, summed(9, body));
    const auto as_bins = unpack_bins(9, summed(bin_of(9), body));
    if (as_samples.ok()) {
      ++read;
      ASSERT_LE(as_samples->size(), kPackedMax);
    }
    if (as_bins.ok()) {
      ++read;
      ASSERT_LE(as_bins->size(), kPackedMax);
    }
  }
  EXPECT_GT(read, 0) << "some bodies are merely other readings, so the reader was really reached";
}

TEST(ChunkBins, LowMeanHighAndCountOfEachFiveMinutes) {
  const auto bins = bins_of(std::vector<Sample>{
      {kBinMs - 1, 5}, {kBinMs, 100}, {kBinMs + 1, 103}, {2 * kBinMs - 1, 104}, {4 * kBinMs, -7}});
  ASSERT_EQ(bins.size(), 3U);
  EXPECT_EQ(bins[0], (Bin{0, 5, 5, 5, 1}));
  EXPECT_EQ(bins[1], (Bin{1, 100, 102, 104, 3})) << "307/3 is 102.33";
  EXPECT_EQ(bins[2], (Bin{4, -7, -7, -7, 1}));
  EXPECT_TRUE(bins_of({}).empty());
}

TEST(ChunkBins, MeansAreRoundedAndTimesBeforeZeroHaveBinsOfTheirOwn) {
  EXPECT_EQ(bins_of(std::vector<Sample>{{0, 1}, {1, 2}})[0].mean, 2);
  EXPECT_EQ(bins_of(std::vector<Sample>{{0, -1}, {1, -2}})[0].mean, -1) << "a half goes up";
  EXPECT_EQ(bins_of(std::vector<Sample>{{0, -2}, {1, -1}})[0].mean, -1) << "in any order";
  EXPECT_EQ(bin_of(-1), -1);
  EXPECT_EQ(bin_of(-kBinMs), -1);
  EXPECT_EQ(bin_of(-kBinMs - 1), -2);
  EXPECT_EQ(bin_of(kBinMs - 1), 0);
  const auto widest = bins_of(std::vector<Sample>{{0, -kHundredthsMax}, {1, kHundredthsMax}});
  EXPECT_EQ(widest[0].mean, 0);
}

TEST(ChunkBins, WhatIsPackedComesBack) {
  std::mt19937_64 dice(8);
  for (const std::size_t count : {1U, 30U, 360U, 4000U}) {
    expect_bins_back(bins_of(like_a_sensor(dice, count)), std::to_string(count) + " samples");
  }
  for (int round = 0; round < 300; ++round) {
    std::vector<Bin> bins;
    std::int64_t index = static_cast<std::int64_t>(dice() % 1'000'000) - 500'000;
    for (std::size_t i = 0; i < 1 + dice() % 60; ++i) {
      index += 1 + static_cast<std::int64_t>(dice() % 3);
      std::int64_t three[3];
      for (auto& v : three) v = static_cast<std::int64_t>(dice()) >> (dice() % 64);
      std::sort(std::begin(three), std::end(three));
      bins.push_back({index, three[0], three[1], three[2], 1 + static_cast<std::int64_t>(i)});
    }
    expect_bins_back(bins, "round " + std::to_string(round));
  }
  expect_bins_back({{7, kLeast, 0, kMost, 1}, {8, kMost, kMost, kMost, kMost}},
                   "the ends of numbers");
}

}  // namespace
