#include "shell/record/backup/manifest.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "shell/record/backup/file_io.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kOfBackup = "tubwarden record";

WallTime time_in(const Json& text) {
  const auto time = parse_rfc3339(text.get<std::string>());
  if (!time) throw FileError("the backup's manifest has a time that is none");
  return *time;
}

}  // namespace

std::string manifest_text(const BackupManifest& manifest) {
  Json files = Json::array();
  for (const BackupFile& file : manifest.files) {
    files.push_back({{"name", file.name},
                     {"version", file.version},
                     {"size_bytes", file.bytes},
                     {"sha256", file.sha256}});
  }
  Json newest;
  if (manifest.newest_entry) newest = rfc3339(*manifest.newest_entry);
  const Json all = {{"backup_of", kOfBackup},
                    {"form", manifest.form},
                    {"site", manifest.site},
                    {"made_at", rfc3339(manifest.made)},
                    {"entries", manifest.entries},
                    {"newest_entry_at", newest},
                    {"files", files}};
  return all.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

BackupManifest read_manifest(std::string_view text) {
  try {
    const Json all = Json::parse(text);
    BackupManifest manifest;
    if (all.at("backup_of") != kOfBackup) throw FileError("this is a backup of something else");
    manifest.form = all.at("form").get<int>();
    if (manifest.form > kBackupForm) {
      throw FileError(
          fmt::format("the backup is of form {}, made by a newer Tubwarden; this one "
                      "knows form {}. Install the newer one",
                      manifest.form, kBackupForm));
    }
    manifest.site = all.at("site").get<std::string>();
    manifest.made = time_in(all.at("made_at"));
    manifest.entries = all.at("entries").get<std::uint64_t>();
    if (const Json& newest = all.at("newest_entry_at"); !newest.is_null()) {
      manifest.newest_entry = time_in(newest);
    }
    for (const Json& file : all.at("files")) {
      manifest.files.push_back({file.at("name").get<std::string>(), file.at("version").get<int>(),
                                file.at("size_bytes").get<std::uint64_t>(),
                                file.at("sha256").get<std::string>()});
    }
    return manifest;
  } catch (const Json::exception& wrong) {
    throw FileError(std::string("the backup's manifest cannot be read: ") + wrong.what());
  }
}

}  // namespace tubwarden
