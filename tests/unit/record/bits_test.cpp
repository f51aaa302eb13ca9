// Numbers in few bits: what goes in comes out, and the end of the bytes is the end.
#include <gtest/gtest.h>

#include <limits>
#include <random>

#include "shell/record/bits.hpp"

namespace {

using namespace tubwarden;

/// Numbers of every length, small ones as likely as great ones.
std::uint64_t any_length(std::mt19937_64& dice) { return dice() >> (dice() % 64); }

TEST(Bits, ZigzagOfBothEndsAndTheMiddle) {
  EXPECT_EQ(zigzag(0), 0U);
  EXPECT_EQ(zigzag(-1), 1U);
  EXPECT_EQ(zigzag(1), 2U);
  EXPECT_EQ(zigzag(INT64_MAX), UINT64_MAX - 1);
  EXPECT_EQ(zigzag(INT64_MIN), UINT64_MAX);
  for (const std::int64_t v : {std::int64_t{0}, std::int64_t{-7}, INT64_MAX, INT64_MIN}) {
    EXPECT_EQ(unzigzag(zigzag(v)), v);
  }
}

TEST(Bits, TheChecksumIsTheCommonOne) {
  // The check value of CRC-32/ISO-HDLC is the sum of these nine digits; python3's zlib.crc32 says
  // the same.
  EXPECT_EQ(crc32("123456789"), 0xCBF43926U);
  EXPECT_EQ(crc32(""), 0U);
  EXPECT_EQ(crc32("6789", crc32("12345")), 0xCBF43926U) << "in two parts";
}

TEST(Bits, AnyMixOfNumbersComesBack) {
  std::mt19937_64 dice(20261125);
  for (int round = 0; round < 200; ++round) {
    std::vector<std::pair<int, std::uint64_t>> told;
    BitWriter out;
    for (int i = 0; i < 100; ++i) {
      const std::uint64_t value = any_length(dice);
      const int how = static_cast<int>(dice() % 3);
      const unsigned k = static_cast<unsigned>(i % (kRiceMax + 1));
      if (how == 0) out.put(value, 64);
      if (how == 1) out.varint(value);
      if (how == 2) out.rice(value, k);
      told.emplace_back(how, value);
    }
    const std::string bytes = out.finish();
    BitReader in(bytes);
    for (int i = 0; i < 100; ++i) {
      const auto& [how, value] = told[static_cast<std::size_t>(i)];
      const unsigned k = static_cast<unsigned>(i % (kRiceMax + 1));
      const std::uint64_t read = how == 0 ? in.get(64) : how == 1 ? in.varint() : in.rice(k);
      ASSERT_EQ(read, value) << "round " << round << ", number " << i << ", way " << how;
    }
    EXPECT_TRUE(in.done());
  }
}

TEST(Bits, EveryLengthOfAPlainNumber) {
  for (unsigned length = 1; length <= 64; ++length) {
    const std::uint64_t all = ~std::uint64_t{0} >> (64 - length);
    BitWriter out;
    out.put(1, 3);  // not at the beginning of a byte
    out.put(all, length);
    out.put(0, 1);
    const std::string bytes = out.finish();
    BitReader in(bytes);
    EXPECT_EQ(in.get(3), 1U);
    EXPECT_EQ(in.get(length), all);
    EXPECT_EQ(in.get(1), 0U);
  }
}

TEST(Bits, TheBestParameterIsNoWorseThanAnyOther) {
  std::mt19937_64 dice(7);
  const auto bytes_with = [](std::span<const std::uint64_t> values, unsigned k) {
    BitWriter out;
    for (const std::uint64_t v : values) out.rice(v, k);
    return out.finish().size();
  };
  for (int round = 0; round < 20; ++round) {
    std::vector<std::uint64_t> values;
    const unsigned shift = static_cast<unsigned>(dice() % 64);
    for (int i = 0; i < 50; ++i) values.push_back(dice() >> shift);
    const std::size_t best = bytes_with(values, best_rice(values));
    for (unsigned k = 0; k <= kRiceMax; ++k) EXPECT_LE(best, bytes_with(values, k)) << k;
  }
  EXPECT_EQ(best_rice({}), 0U);
}

TEST(Bits, ReadingPastTheEndIsTold) {
  BitReader none("");
  EXPECT_TRUE(none.done());
  EXPECT_EQ(none.get(1), 0U);
  EXPECT_TRUE(none.over());
  EXPECT_FALSE(none.done());
  const std::string ones(3, '\xFF');
  BitReader escape(ones);
  escape.rice(0);
  EXPECT_TRUE(escape.over()) << "an escape without its number";
  BitReader endless(ones);
  endless.varint();
  EXPECT_TRUE(endless.over());
}

TEST(Bits, WhatIsLeftIsNotDone) {
  BitReader rest("\x01");
  EXPECT_EQ(rest.get(4), 0U);
  EXPECT_FALSE(rest.done()) << "a one is left";
  const std::string two(2, '\0');
  BitReader whole(two);
  EXPECT_EQ(whole.get(8), 0U);
  EXPECT_FALSE(whole.done()) << "a whole byte is left";
}

}  // namespace
