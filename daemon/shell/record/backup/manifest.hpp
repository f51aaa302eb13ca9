// What a backup says of itself: of which site and when, and of each file in it the version of its
// tables, its size and its SHA-256. Threading: plain values. Failure: a text that is no manifest
// throws FileError.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/time.hpp"

namespace tubwarden {

/// Of the manifest and of what is in the file; one that is newer is refused.
inline constexpr int kBackupForm = 1;
inline constexpr const char* kManifestName = "manifest.json";
inline constexpr const char* kRecordName = "record.db";
inline constexpr const char* kReadingsName = "readings.db";

struct BackupFile {
  std::string name;
  int version = 0;  ///< SQLite's user_version
  std::uint64_t bytes = 0;
  std::string sha256;
};

struct BackupManifest {
  int form = kBackupForm;
  std::string site;
  WallTime made{};
  std::uint64_t entries = 0;
  std::optional<WallTime> newest_entry;  ///< of those made with a set clock
  std::vector<BackupFile> files;
};

std::string manifest_text(const BackupManifest& manifest);
BackupManifest read_manifest(std::string_view text);

}  // namespace tubwarden
