#include "shell/record/bits.hpp"

#include <array>
#include <bit>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr unsigned kLengthBits = 6;  ///< of an escaped number: its length less one

constexpr std::array<std::uint32_t, 256> make_table() {
  std::array<std::uint32_t, 256> table{};
  for (std::uint32_t i = 0; i < table.size(); ++i) {
    std::uint32_t c = i;
    for (int bit = 0; bit < 8; ++bit) c = c & 1 ? 0xEDB88320U ^ (c >> 1) : c >> 1;
    table[i] = c;
  }
  return table;
}
constexpr auto kCrcTable = make_table();

unsigned length_of(std::uint64_t v) {
  return v == 0 ? 1 : 64 - static_cast<unsigned>(std::countl_zero(v));
}

std::uint64_t rice_bits(std::uint64_t value, unsigned k) {
  const std::uint64_t high = value >> k;
  return high < kRiceEscape ? high + 1 + k : kRiceEscape + kLengthBits + length_of(value);
}

}  // namespace

std::uint32_t crc32(std::string_view bytes, std::uint32_t seed) {
  std::uint32_t c = ~seed;
  for (const char byte : bytes) {
    c = kCrcTable[(c ^ static_cast<unsigned char>(byte)) & 0xFF] ^ (c >> 8);
  }
  return ~c;
}

unsigned best_rice(std::span<const std::uint64_t> values) {
  unsigned best = 0;
  std::uint64_t fewest = UINT64_MAX;
  for (unsigned k = 0; k <= kRiceMax; ++k) {
    std::uint64_t bits = 0;
    for (const std::uint64_t v : values) bits += rice_bits(v, k);
    if (bits < fewest) {
      fewest = bits;
      best = k;
    }
  }
  return best;
}

void BitWriter::put(std::uint64_t value, unsigned count) {
  ENSURE(count <= 64);
  while (count > 0) {
    const unsigned now = std::min(count, 64 - held_bits_);
    const std::uint64_t part = (value >> (count - now)) & (~std::uint64_t{0} >> (64 - now));
    held_ = now == 64 ? part : (held_ << now) | part;
    held_bits_ += now;
    count -= now;
    while (held_bits_ >= 8) {
      held_bits_ -= 8;
      bytes_.push_back(static_cast<char>(held_ >> held_bits_));
    }
  }
}

void BitWriter::varint(std::uint64_t value) {
  while (value >= 0x80) {
    put(value | 0x80, 8);
    value >>= 7;
  }
  put(value, 8);
}

void BitWriter::rice(std::uint64_t value, unsigned k) {
  ENSURE(k <= kRiceMax);
  const std::uint64_t high = value >> k;
  if (high < kRiceEscape) {
    put(~std::uint64_t{1}, static_cast<unsigned>(high) + 1);  // ones and a zero
    put(value, k);
    return;
  }
  const unsigned length = length_of(value);
  put(~std::uint64_t{0}, kRiceEscape);
  put(length - 1, kLengthBits);
  put(value, length);
}

std::string BitWriter::finish() {
  if (held_bits_ > 0) put(0, 8 - held_bits_);
  return std::move(bytes_);
}

std::uint64_t BitReader::window() const {
  const std::size_t byte = at_ / 8;
  std::uint64_t bits = 0;
  for (std::size_t i = 0; i < 8; ++i) {
    const std::size_t from = byte + i;
    bits = (bits << 8) | (from < bytes_.size() ? static_cast<unsigned char>(bytes_[from]) : 0U);
  }
  return bits << (at_ % 8);
}

std::uint64_t BitReader::get(unsigned count) {
  ENSURE(count <= 64);
  std::uint64_t value = 0;
  while (count > 0) {
    const unsigned now = std::min(count, 32U);
    value = (value << now) | (window() >> (64 - now));
    at_ += now;
    count -= now;
  }
  return value;
}

std::uint64_t BitReader::varint() {
  std::uint64_t value = 0;
  for (unsigned shift = 0; shift < 64; shift += 7) {
    const std::uint64_t byte = get(8);
    value |= (byte & 0x7F) << shift;
    if (!(byte & 0x80)) break;
  }
  return value;
}

std::uint64_t BitReader::rice(unsigned k) {
  ENSURE(k <= kRiceMax);
  const auto high = static_cast<unsigned>(std::countl_one(window()));
  if (high < kRiceEscape) {
    at_ += high + 1;
    return (std::uint64_t{high} << k) | get(k);
  }
  at_ += kRiceEscape;
  const auto length = static_cast<unsigned>(get(kLengthBits)) + 1;
  return get(length);
}

bool BitReader::done() {
  if (over() || bytes_.size() * 8 - at_ >= 8) return false;
  const auto left = static_cast<unsigned>(bytes_.size() * 8 - at_);
  return get(left) == 0;
}

}  // namespace tubwarden
