#include "shell/record/backup/checks.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>

#include "base/text.hpp"
#include "shell/record/backup/file_io.hpp"
#include "shell/record/readings_schema.hpp"
#include "shell/record/schema.hpp"

namespace tubwarden {

void check_whole(sql::Database& db, const std::filesystem::path& file) {
  sql::Statement whole(db, "pragma integrity_check(3)");
  if (!whole.step()) throw FileError(file.string() + " could not be checked");
  if (const std::string said = whole.text(0); said != "ok") {
    throw FileError(fmt::format("{} is damaged: {}", file.string(), said));
  }
  sql::Statement torn(db, "pragma foreign_key_check");
  if (torn.step()) {
    throw FileError(fmt::format("{} is damaged: a row of {} refers to what is not there",
                                file.string(), torn.text(0)));
  }
}

std::optional<Error> why_not_readable(const std::filesystem::path& file) {
  if (::access(file.c_str(), R_OK) == 0) return std::nullopt;
  if (errno == ENOENT) {
    return Error{ErrorCode::not_found,
                 fmt::format("there is no record in {}: no {} is there",
                             file.parent_path().string(), file.filename().string())};
  }
  return Error{ErrorCode::refused,
               fmt::format("you may not read {}; run it as root, or as a member of the group of "
                           "that folder",
                           file.string())};
}

int version_known(const std::string& name) {
  if (name == kRecordName) return kSchemaVersion;
  if (name == kReadingsName) return kReadingsVersion;
  throw FileError(fmt::format("a backup holds {} and {}, and this one names '{}'", kRecordName,
                              kReadingsName, name));
}

void count_entries(sql::Database& record, BackupManifest& manifest) {
  sql::Statement s(record, "select count(*), max(iif(wall_set, wall_ms, null)) from entry");
  s.step();
  manifest.entries = static_cast<std::uint64_t>(s.integer(0));
  if (!s.is_null(1)) manifest.newest_entry = WallTime(milliseconds(s.integer(1)));
}

std::string name_of_moment(WallTime at) {
  std::string text = rfc3339(at).substr(0, 19) + "Z";
  std::replace(text.begin(), text.end(), ':', '-');
  return text;
}

}  // namespace tubwarden
