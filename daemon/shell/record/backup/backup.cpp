#include "shell/record/backup/backup.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <memory>
#include <vector>

#include "shell/record/backup/checks.hpp"
#include "shell/record/backup/file_io.hpp"
#include "shell/record/backup/ustar.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr int kPagesAtOnce = 512;

/// A database as it is now, whatever is written to it from here on.
class PinnedDatabase {
 public:
  explicit PinnedDatabase(const fs::path& file) : db_(file.string(), sql::Database::Access::read) {
    db_.run("begin");
    sql::Statement(db_, "select count(*) from sqlite_schema").step();
  }
  sql::Database& db() { return db_; }

 private:
  sql::Database db_;
};

/// By SQLite's online backup; the copy is one file without a write-ahead log.
void copy_database(PinnedDatabase& from, const fs::path& to,
                   const std::function<void(double)>& told) {
  {
    sql::Database copy(to.string());
    // Nobody else sees this file, and it is synced as a whole later.
    copy.run("pragma journal_mode=off; pragma synchronous=off");
    sqlite3_backup* backup = sqlite3_backup_init(copy.handle(), "main", from.db().handle(), "main");
    if (!backup) throw sql::SqlError(std::string("sqlite: ") + sqlite3_errmsg(copy.handle()));
    int code = SQLITE_OK;
    while ((code = sqlite3_backup_step(backup, kPagesAtOnce)) == SQLITE_OK) {
      const int all = sqlite3_backup_pagecount(backup);
      if (all > 0) told(1.0 - static_cast<double>(sqlite3_backup_remaining(backup)) / all);
    }
    sqlite3_backup_finish(backup);
    if (code != SQLITE_DONE) throw sql::SqlError(std::string("sqlite: ") + sqlite3_errstr(code));
  }
  sql::Database copy(to.string());
  copy.run("pragma synchronous=off; pragma journal_mode=delete");
}

fs::path target_of(const BackupAsk& ask) {
  std::error_code none;
  if (!fs::is_directory(ask.target, none)) return fs::absolute(ask.target);
  return fs::absolute(ask.target) /
         fmt::format("{}-{}.tar", ask.site.empty() ? "record" : ask.site, name_of_moment(ask.now));
}

/// Copies one database, checks the copy, and says what it is.
BackupFile take_database(PinnedDatabase& from, const fs::path& copy, BackupManifest& manifest,
                         const std::function<void(double)>& told) {
  copy_database(from, copy, told);
  sql::Database db(copy.string(), sql::Database::Access::read);
  check_whole(db, copy);
  const std::string name = copy.filename().string();
  if (name == kRecordName) count_entries(db, manifest);
  return {name, db.user_version(), fs::file_size(copy), digest_of(copy)};
}

BackupMade write_backup(const BackupAsk& ask, const BackupTold& told) {
  const fs::path target = target_of(ask);
  std::error_code none;
  if (fs::exists(fs::symlink_status(target, none))) {
    throw FileError(target.string() +
                    " is there already, and a backup overwrites nothing; name another file");
  }
  const WorkFolder work(target);
  BackupManifest manifest;
  manifest.site = ask.site;
  manifest.made = ask.now;
  // Both are pinned before either is copied, so that they are of the same moment.
  std::vector<std::pair<std::string, std::unique_ptr<PinnedDatabase>>> pinned;
  for (const char* name : {kRecordName, kReadingsName}) {
    if (!fs::exists(ask.record / name)) continue;
    pinned.emplace_back(name, std::make_unique<PinnedDatabase>(ask.record / name));
  }
  for (std::size_t i = 0; i < pinned.size(); ++i) {
    const auto part = [&](double done) {
      if (told) told((static_cast<double>(i) + done) / static_cast<double>(pinned.size()));
    };
    auto& [name, from] = pinned[i];
    manifest.files.push_back(take_database(*from, work.path() / name, manifest, part));
    from.reset();  // holds the write-ahead log no longer
  }
  const fs::path archive = work.path() / "archive.tar";
  TarWriter tar(archive, duration_cast<seconds>(ask.now.time_since_epoch()).count());
  tar.add(kManifestName, manifest_text(manifest));
  for (const BackupFile& file : manifest.files) {
    tar.add_file(file.name, work.path() / file.name);
    fs::remove(work.path() / file.name);
  }
  tar.finish();
  rename_to_new(archive, target);
  sync_folder(target.parent_path());
  return {target, fs::file_size(target), manifest};
}

}  // namespace

Result<BackupMade> make_backup(const BackupAsk& ask, const BackupTold& told) {
  for (const char* name : {kRecordName, kReadingsName}) {
    const auto wrong = why_not_readable(ask.record / name);
    if (!wrong || (wrong->code == ErrorCode::not_found && name != std::string_view(kRecordName))) {
      continue;
    }
    return *wrong;
  }
  try {
    return write_backup(ask, told);
  } catch (const FileError& error) {
    return Error{ErrorCode::unavailable, error.what()};
  } catch (const sql::SqlError& error) {
    return Error{ErrorCode::broken, fmt::format("the record in {} could not be copied: {}; where "
                                                "no daemon runs, run it as root or as its user",
                                                ask.record.string(), error.what())};
  } catch (const fs::filesystem_error& error) {
    return Error{ErrorCode::unavailable, error.what()};
  }
}

}  // namespace tubwarden
