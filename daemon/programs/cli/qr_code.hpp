// A text as a QR code (ISO/IEC 18004), by libqrencode. Threading: pure functions. Failure: an Error
// for a text that no code holds.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "base/result.hpp"

namespace tubwarden::cli {

/// Square; true is dark. Without its quiet zone.
struct QrCode {
  std::size_t size = 0;  ///< modules a side
  std::vector<bool> dark;
  bool at(std::size_t row, std::size_t column) const { return dark[row * size + column]; }
};

/// ISO/IEC 18004, 6.3.8: what must stay light around a code, in modules.
inline constexpr std::size_t kQuietModules = 4;

/// The smallest code that holds it, with a quarter of it to spare (level Q): jars sweat.
Result<QrCode> qr_code(const std::string& text);

}  // namespace tubwarden::cli
