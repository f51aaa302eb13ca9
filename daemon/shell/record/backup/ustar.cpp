#include "shell/record/backup/ustar.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <vector>

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

constexpr std::size_t kTarBlock = 512;
constexpr std::size_t kTarPiece = 64 * 1024;

/// Where the fields of a header stand, and how long they are.
struct TarField {
  std::size_t at, size;
};
constexpr TarField kTarName{0, 100}, kTarMode{100, 8}, kTarOwner{108, 8}, kTarGroup{116, 8},
    kTarSize{124, 12}, kTarTime{136, 12}, kTarSum{148, 8}, kTarKind{156, 1}, kTarMagic{257, 8};
constexpr std::string_view kUstar("ustar\00000", 8);

using TarHead = std::array<char, kTarBlock>;

void put_octal(TarHead& head, TarField field, std::uint64_t value) {
  const std::string digits = fmt::format("{:0{}o}", value, field.size - 1);
  ENSURE(digits.size() < field.size);
  std::memcpy(head.data() + field.at, digits.data(), digits.size());
}

std::optional<std::uint64_t> octal_of(const TarHead& head, TarField field) {
  std::uint64_t value = 0;
  bool any = false;
  for (std::size_t i = field.at; i < field.at + field.size; ++i) {
    const char c = head[i];
    if (c == '\0' || c == ' ') {
      if (any) break;
      continue;
    }
    if (c < '0' || c > '7') return std::nullopt;
    value = value * 8 + static_cast<std::uint64_t>(c - '0');
    any = true;
  }
  return any ? std::optional(value) : std::nullopt;
}

/// The sum of all bytes, with the sum's own field taken as spaces.
std::uint64_t sum_of_head(const TarHead& head) {
  std::uint64_t sum = 0;
  for (std::size_t i = 0; i < head.size(); ++i) {
    const bool own = i >= kTarSum.at && i < kTarSum.at + kTarSum.size;
    sum += own ? ' ' : static_cast<unsigned char>(head[i]);
  }
  return sum;
}

std::uint64_t filled(std::uint64_t size) { return (kTarBlock - size % kTarBlock) % kTarBlock; }

}  // namespace

TarWriter::TarWriter(const std::filesystem::path& path, std::int64_t at_s)
    : file_(OpenFile::make(path)), at_s_(at_s) {}

void TarWriter::head(const std::string& name, std::uint64_t size) {
  ENSURE(name.size() < kTarName.size);
  if (size > kTarMemberBytesMax) {
    throw FileError(
        fmt::format("{} is larger than the 8 GiB that a backup can hold of one file", name));
  }
  TarHead head{};
  std::memcpy(head.data() + kTarName.at, name.data(), name.size());
  put_octal(head, kTarMode, 0640);
  put_octal(head, kTarOwner, 0);
  put_octal(head, kTarGroup, 0);
  put_octal(head, kTarSize, size);
  put_octal(head, kTarTime, static_cast<std::uint64_t>(std::max<std::int64_t>(at_s_, 0)));
  head[kTarKind.at] = '0';
  std::memcpy(head.data() + kTarMagic.at, kUstar.data(), kUstar.size());
  const std::string sum = fmt::format("{:06o}", sum_of_head(head));
  std::memcpy(head.data() + kTarSum.at, sum.data(), sum.size());
  head[kTarSum.at + 6] = '\0';
  head[kTarSum.at + 7] = ' ';
  file_.write({head.data(), head.size()});
}

void TarWriter::fill(std::uint64_t size) { file_.write(std::string(filled(size), '\0')); }

void TarWriter::add(const std::string& name, std::string_view content) {
  head(name, content.size());
  file_.write(content);
  fill(content.size());
}

void TarWriter::add_file(const std::string& name, const std::filesystem::path& content) {
  OpenFile from = OpenFile::to_read(content);
  const std::uint64_t size = from.size();
  head(name, size);
  std::vector<char> piece(kTarPiece);
  std::uint64_t copied = 0;
  while (const std::size_t n = from.read(piece.data(), piece.size())) {
    file_.write({piece.data(), n});
    copied += n;
  }
  if (copied != size) throw FileError(content.string() + " changed while it was copied");
  fill(size);
}

void TarWriter::finish() {
  file_.write(std::string(2 * kTarBlock, '\0'));
  file_.sync();
}

TarReader::TarReader(const std::filesystem::path& path) : file_(OpenFile::to_read(path)) {}

void TarReader::read_block(char* into) {
  if (file_.read(into, kTarBlock) != kTarBlock) {
    throw FileError(file_.path().string() + " is cut off: it is no whole backup");
  }
}

std::optional<TarMember> TarReader::next() {
  ENSURE(left_ == 0);
  TarHead head{};
  read_block(head.data());
  if (std::all_of(head.begin(), head.end(), [](char c) { return c == '\0'; })) return std::nullopt;
  const auto sum = octal_of(head, kTarSum);
  const auto size = octal_of(head, kTarSize);
  const char kind = head[kTarKind.at];
  if (!sum || *sum != sum_of_head(head) || !size || (kind != '0' && kind != '\0')) {
    throw FileError(file_.path().string() +
                    " is no backup, or damaged: a header in it does not "
                    "agree with its own sum");
  }
  const char* name = head.data() + kTarName.at;
  left_ = *size;
  return TarMember{std::string(name, ::strnlen(name, kTarName.size)), *size};
}

std::string TarReader::text(std::size_t most) {
  if (left_ > most)
    throw FileError(file_.path().string() + " is no backup: a text in it is too long");
  std::string content(left_ + filled(left_), '\0');
  if (file_.read(content.data(), content.size()) != content.size()) {
    throw FileError(file_.path().string() + " is cut off: it is no whole backup");
  }
  content.resize(left_);
  left_ = 0;
  return content;
}

std::string TarReader::to_file(const std::filesystem::path& path) {
  OpenFile to = OpenFile::make(path);
  Digest digest;
  std::vector<char> piece(kTarPiece);
  const std::uint64_t fill = filled(left_);
  while (left_ > 0) {
    const auto want = static_cast<std::size_t>(std::min<std::uint64_t>(left_, piece.size()));
    if (file_.read(piece.data(), want) != want) {
      throw FileError(file_.path().string() + " is cut off: it is no whole backup");
    }
    digest.add({piece.data(), want});
    to.write({piece.data(), want});
    left_ -= want;
  }
  if (file_.read(piece.data(), fill) != fill) {
    throw FileError(file_.path().string() + " is cut off: it is no whole backup");
  }
  to.sync();
  return digest.hex();
}

std::string digest_of(const std::filesystem::path& path) {
  OpenFile file = OpenFile::to_read(path);
  Digest digest;
  std::vector<char> piece(kTarPiece);
  while (const std::size_t n = file.read(piece.data(), piece.size())) {
    digest.add({piece.data(), n});
  }
  return digest.hex();
}

}  // namespace tubwarden
