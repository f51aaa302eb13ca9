#include "shell/sheet/compress.hpp"

#include <zlib.h>

namespace tubwarden::sheet {
namespace {

constexpr int kFastest = 1;
constexpr int kGzipWindow = 15 + 16;  ///< 16: with gzip's head and sum
constexpr int kUsualMemory = 8;

}  // namespace

void compress(Answer& answer, bool takes_gzip) {
  const std::string& plain = answer.body;
  if (plain.size() < kCompressedLeast || plain.size() > kCompressedMost) return;
  answer.headers.emplace_back("Vary", "Accept-Encoding");
  if (!takes_gzip) return;
  z_stream stream{};
  if (::deflateInit2(&stream, kFastest, Z_DEFLATED, kGzipWindow, kUsualMemory,
                     Z_DEFAULT_STRATEGY) != Z_OK) {
    return;
  }
  std::string packed(plain.size(), '\0');
  stream.next_in = reinterpret_cast<Bytef*>(answer.body.data());  // only read
  stream.avail_in = static_cast<uInt>(plain.size());
  stream.next_out = reinterpret_cast<Bytef*>(packed.data());
  stream.avail_out = static_cast<uInt>(packed.size());
  const bool smaller = ::deflate(&stream, Z_FINISH) == Z_STREAM_END;
  packed.resize(stream.total_out);
  ::deflateEnd(&stream);
  if (!smaller) return;
  answer.body = std::move(packed);
  answer.headers.emplace_back("Content-Encoding", "gzip");
}

}  // namespace tubwarden::sheet
