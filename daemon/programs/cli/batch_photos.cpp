#include <algorithm>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <string_view>

#include "programs/cli/batch_page.hpp"

namespace tubwarden::cli {
namespace {

/// RFC 4648, 4.
std::string base64(std::string_view bytes) {
  static constexpr std::string_view kLetters =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::size_t n = std::min<std::size_t>(3, bytes.size() - i);
    std::uint32_t group = 0;
    for (std::size_t k = 0; k < 3; ++k) {
      group = group << 8 | (k < n ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    }
    for (std::size_t k = 0; k < 4; ++k) {
      text += k <= n ? kLetters[group >> (18 - 6 * k) & 63U] : '=';
    }
  }
  return text;
}

/// By its first bytes; empty for what a browser is not to be given.
std::string picture_kind(std::string_view bytes) {
  if (bytes.starts_with("\xFF\xD8\xFF")) return "image/jpeg";
  if (bytes.starts_with("\x89PNG\r\n\x1A\n")) return "image/png";
  if (bytes.starts_with("RIFF") && bytes.substr(0, 12).ends_with("WEBP")) return "image/webp";
  return "";
}

}  // namespace

std::optional<std::string> photo_data(const std::string& path) {
  std::error_code none;
  if (!std::filesystem::is_regular_file(path, none)) return std::nullopt;
  std::ifstream file(path, std::ios::binary);
  std::string bytes(kPhotoBytesMax + 1, '\0');
  file.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  bytes.resize(static_cast<std::size_t>(file.gcount()));
  const std::string kind = picture_kind(bytes);
  if (kind.empty() || bytes.size() > kPhotoBytesMax) return std::nullopt;
  return "data:" + kind + ";base64," + base64(bytes);
}

}  // namespace tubwarden::cli
