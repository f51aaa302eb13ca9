// Numbers in few bits: varints, Rice codes, and a checksum over them. Pure: bytes in memory only.
// Threading: plain values. Failure: reading past the end gives zeros and is told by `over`; no
// input makes a reader loop or leave its bytes.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

namespace tubwarden {

/// Small numbers of either sign to small numbers: 0, -1, 1, -2, ... to 0, 1, 2, 3, ...
constexpr std::uint64_t zigzag(std::int64_t v) {
  return (static_cast<std::uint64_t>(v) << 1) ^ (v < 0 ? ~std::uint64_t{0} : 0);
}
constexpr std::int64_t unzigzag(std::uint64_t v) {
  return static_cast<std::int64_t>((v >> 1) ^ (v & 1 ? ~std::uint64_t{0} : 0));
}

/// CRC-32 of ISO/IEC 8802-3 (as in Ethernet and zip). `seed` is the sum so far.
std::uint32_t crc32(std::string_view bytes, std::uint32_t seed = 0);

/// Rice codes (R. F. Rice, JPL Publication 79-22): the high part in unary, `k` low bits as they
/// are. A number far beyond the others is escaped: a run of kRiceEscape ones, its length, its bits.
inline constexpr unsigned kRiceEscape = 24;
inline constexpr unsigned kRiceMax = 40;
/// The `k` that needs the fewest bits.
unsigned best_rice(std::span<const std::uint64_t> values);

class BitWriter {
 public:
  /// The lowest `count` bits of `value`; at most 64.
  void put(std::uint64_t value, unsigned count);
  void varint(std::uint64_t value);
  void rice(std::uint64_t value, unsigned k);
  /// All, filled with zeros to a whole byte.
  std::string finish();

 private:
  std::string bytes_;
  std::uint64_t held_ = 0;
  unsigned held_bits_ = 0;
};

class BitReader {
 public:
  explicit BitReader(std::string_view bytes) : bytes_(bytes) {}
  std::uint64_t get(unsigned count);
  std::uint64_t varint();
  std::uint64_t rice(unsigned k);
  /// More was read than there is.
  bool over() const { return at_ > bytes_.size() * 8; }
  /// Less than a byte is left, and it is zero.
  bool done();

 private:
  /// The next bits from the highest down, at least 57 of them; zeros past the end.
  std::uint64_t window() const;

  std::string_view bytes_;
  std::size_t at_ = 0;  ///< in bits
};

}  // namespace tubwarden
