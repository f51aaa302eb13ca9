// One file that holds several, in the ustar format (POSIX.1-2017, pax: "ustar Interchange Format"),
// so that any tar can open a backup without us. For the files of this room only. Threading: one
// thread an object. Failure: throws FileError; a file that is no such archive says so.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "shell/record/backup/file_io.hpp"

namespace tubwarden {

/// The greatest size that the format's eleven octal digits can say.
inline constexpr std::uint64_t kTarMemberBytesMax = (std::uint64_t{1} << 33) - 1;

class TarWriter {
 public:
  /// A new file; `at_s`: seconds since 1970, the time of all members.
  TarWriter(const std::filesystem::path& path, std::int64_t at_s);
  void add(const std::string& name, std::string_view content);
  void add_file(const std::string& name, const std::filesystem::path& content);
  /// The end of the archive; on the disk when this returns.
  void finish();

 private:
  void head(const std::string& name, std::uint64_t size);
  void fill(std::uint64_t size);
  OpenFile file_;
  std::int64_t at_s_;
};

struct TarMember {
  std::string name;
  std::uint64_t size = 0;
};

class TarReader {
 public:
  explicit TarReader(const std::filesystem::path& path);
  /// The next member, whose content is then taken once by one of the two below; nothing at the end.
  std::optional<TarMember> next();
  /// The content, which may not be longer than `most`.
  std::string text(std::size_t most);
  /// The content into a new file, on the disk when this returns; answers its SHA-256.
  std::string to_file(const std::filesystem::path& path);

 private:
  void read_block(char* into);
  OpenFile file_;
  std::uint64_t left_ = 0;  ///< of the content of the present member
};

/// The SHA-256 of a file.
std::string digest_of(const std::filesystem::path& path);

}  // namespace tubwarden
