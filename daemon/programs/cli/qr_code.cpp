#include "programs/cli/qr_code.hpp"

#include <fmt/format.h>
#include <qrencode.h>

#include <cerrno>
#include <cstring>
#include <memory>

namespace tubwarden::cli {

Result<QrCode> qr_code(const std::string& text) {
  constexpr int kSmallestThatFits = 0;
  constexpr int kCaseCounts = 1;
  const std::unique_ptr<QRcode, void (*)(QRcode*)> made(
      QRcode_encodeString(text.c_str(), kSmallestThatFits, QR_ECLEVEL_Q, QR_MODE_8, kCaseCounts),
      QRcode_free);
  if (!made) {
    return Error{ErrorCode::bad_input,
                 fmt::format("'{}' does not go into a QR code: {}", text, std::strerror(errno))};
  }
  QrCode code;
  code.size = static_cast<std::size_t>(made->width);
  code.dark.resize(code.size * code.size);
  // The lowest bit says dark; the others say what a module is for.
  for (std::size_t i = 0; i < code.dark.size(); ++i) code.dark[i] = (made->data[i] & 1U) != 0;
  return code;
}

}  // namespace tubwarden::cli
