// What a copy of the record is judged by before it is trusted. For the files of this room only.
// Threading: blocks the caller. Failure: throws FileError or SqlError, with what is wrong.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "base/result.hpp"
#include "shell/record/backup/manifest.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

/// SQLite's own check of every page, and of what refers to what.
void check_whole(sql::Database& db, const std::filesystem::path& file);

/// Whether a database can be opened by who runs this; nothing when it can.
std::optional<Error> why_not_readable(const std::filesystem::path& file);

/// The greatest version of tables of this name that this program knows; throws for another name.
int version_known(const std::string& name);

/// The entries and the newest of them, for the manifest.
void count_entries(sql::Database& record, BackupManifest& manifest);

/// "2026-11-26T03-15-00Z": a moment as a part of a file's name that every file system takes.
std::string name_of_moment(WallTime at);

}  // namespace tubwarden
