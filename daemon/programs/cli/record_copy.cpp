#include "programs/cli/record_copy.hpp"

#include <fmt/format.h>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "settings/settings.hpp"
#include "shell/record/backup/backup.hpp"
#include "shell/record/backup/export.hpp"

namespace tubwarden::cli {
namespace {

/// Where the record is, and whose.
struct RecordPlace {
  std::string folder, site;
  std::vector<std::string> notes;
};

Result<RecordPlace> place_by_config(const std::string& config) {
  const Loaded loaded = load_folder(config, {});
  if (!loaded.site) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{} does not say where the record is; see: tubwarden check {}", config,
                             config)};
  }
  return RecordPlace{loaded.site->record_folder, loaded.site->site, {}};
}

/// The daemon's record, with all that it held on disk; without a daemon, the folder's.
Result<RecordPlace> place_to_read(const RecordCopy& wanted, const AskDaemon& ask) {
  const auto answer = ask("sync", "{}");
  if (!answer.ok()) {
    if (answer.error().code != ErrorCode::unavailable) return answer.error();
    auto place = place_by_config(wanted.config);
    if (!place.ok())
      return Error{place.error().code, answer.error().text + "; and " + place.error().text};
    place.value().notes.push_back(fmt::format(
        "no daemon answers, so the record in {} is taken as it lies there", place->folder));
    return place;
  }
  const auto at = parsed(*answer, "record_folder");
  if (!at.ok()) return at.error();
  return RecordPlace{text(*at, "record_folder"), text(*at, "site"), {}};
}

std::string bytes_told(std::uint64_t bytes) {
  const double kib = static_cast<double>(bytes) / 1024.0;
  return kib < 1024.0 ? fmt::format("{:.0f} KiB", kib) : fmt::format("{:.1f} MiB", kib / 1024.0);
}

std::string newest_told(const BackupManifest& manifest, const Look& look) {
  return manifest.newest_entry
             ? ", the newest of " + local_time(rfc3339(*manifest.newest_entry), look, true)
             : "";
}

Json manifest_json(const BackupManifest& manifest) {
  Json newest;
  if (manifest.newest_entry) newest = rfc3339(*manifest.newest_entry);
  return {{"site", manifest.site},
          {"made_at", rfc3339(manifest.made)},
          {"entries", manifest.entries},
          {"newest_entry_at", newest}};
}

Result<CopyTold> back_up(const RecordCopy& wanted, const RecordPlace& from,
                         const std::function<void(double)>& told, const Look& look) {
  const auto made = make_backup({from.folder, wanted.path, from.site, wanted.now}, told);
  if (!made.ok()) return made.error();
  Json json = manifest_json(made->manifest);
  json["file"] = made->file.string();
  json["size_bytes"] = made->bytes;
  const std::string entries =
      counted(static_cast<double>(made->manifest.entries), "entry", "entries");
  return CopyTold{json.dump(2) + "\n",
                  fmt::format("{}\n  {}{}\n  {}, checked\n", made->file.string(), entries,
                              newest_told(made->manifest, look), bytes_told(made->bytes)),
                  from.notes};
}

Result<CopyTold> restore(const RecordCopy& wanted, const RecordPlace& to, const Look& look) {
  const auto back = restore_backup({wanted.path, to.folder, wanted.now});
  if (!back.ok()) return back.error();
  CopyTold told;
  Json json = manifest_json(back->manifest);
  json["record_folder"] = to.folder;
  json["aside"] = back->aside.empty() ? Json() : Json(back->aside.string());
  told.json = json.dump(2) + "\n";
  told.page = fmt::format("the record in {} is that of {} again\n  {}{}\n", to.folder,
                          local_time(rfc3339(back->manifest.made), look, true),
                          counted(static_cast<double>(back->manifest.entries), "entry", "entries"),
                          newest_told(back->manifest, look));
  if (!back->aside.empty()) {
    told.page += fmt::format("  what was there lies in {}\n", back->aside.string());
  }
  if (back->manifest.site != to.site) {
    told.notes.push_back(fmt::format("the backup is of site '{}', and this one is '{}'",
                                     back->manifest.site, to.site));
  }
  return told;
}

Result<CopyTold> export_all(const RecordCopy& wanted, const RecordPlace& from) {
  const auto done = export_entries({from.folder, wanted.path, from.site, wanted.now});
  if (!done.ok()) return done.error();
  CopyTold told;
  told.notes = from.notes;
  Json tables = Json::array();
  told.page = done->folder.string() + "\n";
  for (const ExportedTable& table : done->tables) {
    tables.push_back({{"name", table.name}, {"rows", table.rows}, {"fields", table.fields}});
    if (table.rows == 0) continue;
    told.page += fmt::format("  {:<18}{:>8}\n", table.name, table.rows);
  }
  told.page += "  each as .csv and .jsonl; tables without a row are there, too\n";
  told.json = Json{{"folder", done->folder.string()}, {"tables", tables}}.dump(2) + "\n";
  return told;
}

}  // namespace

Result<CopyTold> copy_record(const RecordCopy& wanted, const AskDaemon& ask,
                             const std::function<void(double)>& told, const Look& look) {
  const bool writes = wanted.what == RecordCopy::What::restore;
  const auto place = writes ? place_by_config(wanted.config) : place_to_read(wanted, ask);
  if (!place.ok()) return place.error();
  if (writes) return restore(wanted, *place, look);
  return wanted.what == RecordCopy::What::backup ? back_up(wanted, *place, told, look)
                                                 : export_all(wanted, *place);
}

}  // namespace tubwarden::cli
