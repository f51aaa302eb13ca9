// Files by their descriptors, with every error as a sentence: what a backup is written and read
// with. For the files of this room only. Threading: one thread an object. Failure: throws
// FileError, which ends at this room's adapters (make_backup, restore_backup, export_entries).
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

namespace tubwarden {

struct FileError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

class OpenFile {
 public:
  /// A new file, which must not be there yet.
  static OpenFile make(const std::filesystem::path& path);
  static OpenFile to_read(const std::filesystem::path& path);
  ~OpenFile();
  OpenFile(OpenFile&& other) noexcept;
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;
  OpenFile& operator=(OpenFile&&) = delete;

  void write(std::string_view bytes);
  /// How many bytes were read: fewer than asked only at the end of the file.
  std::size_t read(char* into, std::size_t most);
  /// On the disk when this returns.
  void sync();
  std::uint64_t size() const;
  const std::filesystem::path& path() const { return path_; }

 private:
  OpenFile(int fd, std::filesystem::path path);
  int fd_;
  std::filesystem::path path_;
};

/// The names of a folder are on the disk when this returns. A file system that cannot do it (FAT)
/// is not an error.
void sync_folder(const std::filesystem::path& folder);

/// Gives a file its final name on the same file system, and never replaces one that is there.
void rename_to_new(const std::filesystem::path& from, const std::filesystem::path& to);

/// A folder of a name of its own beside `target`, removed with all that is in it at the end.
class WorkFolder {
 public:
  explicit WorkFolder(const std::filesystem::path& target);
  ~WorkFolder();
  WorkFolder(const WorkFolder&) = delete;
  WorkFolder& operator=(const WorkFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// SHA-256 (FIPS 180-4), fed in pieces; 64 hexadecimal digits.
class Digest {
 public:
  Digest();
  ~Digest();
  Digest(const Digest&) = delete;
  Digest& operator=(const Digest&) = delete;
  void add(std::string_view bytes);
  /// Ends it; once.
  std::string hex();

 private:
  void* context_;
};

}  // namespace tubwarden
