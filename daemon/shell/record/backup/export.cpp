#include "shell/record/backup/export.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <nlohmann/json.hpp>
#include <optional>
#include <string_view>

#include "base/text.hpp"
#include "shell/record/backup/checks.hpp"
#include "shell/record/backup/file_io.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr std::size_t kExportPiece = 64 * 1024;
constexpr double kNanosecondsPerSecond = 1e9;

/// How a column is told outside: times as people and programs know them, units last in the name.
enum class ColumnForm { as_it_is, moment, seconds, yes_no };
struct ExportColumn {
  std::string name;   ///< in the table
  std::string field;  ///< in the files
  ColumnForm form = ColumnForm::as_it_is;
};

/// Columns that hold 0 and 1 for no and yes.
constexpr std::array<std::string_view, 5> kYesNoColumns = {"wall_set", "mended", "raised",
                                                           "at_least", "vented"};
/// Columns whose name in the table leaves their unit to this program.
struct Renamed {
  std::string_view name, field;
};
constexpr std::array<Renamed, 7> kRenamed = {{{"level", "level_permille"},
                                              {"wall_set", "at_is_known"},
                                              {"millilitres", "volume_ml"},
                                              {"at_ms", "done_at"},
                                              {"until_ms", "until_at"},
                                              {"grams", "weight_g"},
                                              {"mm", "size_mm"}}};

ExportColumn told_column(const std::string& name) {
  ExportColumn column{name, name, ColumnForm::as_it_is};
  if (name == "wall_ms" || name == "at_ms" || name == "until_ms") {
    column.field = "at";
    column.form = ColumnForm::moment;
  } else if (name.ends_with("_ns")) {
    column.field = name.substr(0, name.size() - 3) + "_s";
    column.form = ColumnForm::seconds;
  }
  for (const std::string_view yes_no : kYesNoColumns) {
    if (name == yes_no) column.form = ColumnForm::yes_no;
  }
  for (const Renamed& renamed : kRenamed) {
    if (name == renamed.name) column.field = renamed.field;
  }
  return column;
}

std::vector<ExportColumn> columns_of(sql::Database& db, const std::string& table) {
  std::vector<ExportColumn> columns;
  sql::Statement s(db, "select name from pragma_table_info(?) order by cid");
  s.bind(table);
  while (s.step()) columns.push_back(told_column(s.text(0)));
  return columns;
}

/// The tables that hang off an entry, by name.
std::vector<std::string> tables_of_entries(sql::Database& db) {
  std::vector<std::string> tables;
  sql::Statement s(db,
                   "select m.name from sqlite_schema m where m.type='table' and exists (select 1 "
                   "from pragma_table_info(m.name) c where c.name='entry') order by m.name");
  while (s.step()) tables.push_back(s.text(0));
  return tables;
}

Json value_of(const sql::Statement& row, int column, ColumnForm form) {
  if (row.is_null(column)) return nullptr;
  switch (form) {
    case ColumnForm::moment:
      return rfc3339(WallTime(milliseconds(row.integer(column))));
    case ColumnForm::seconds:
      return static_cast<double>(row.integer(column)) / kNanosecondsPerSecond;
    case ColumnForm::yes_no:
      return row.integer(column) != 0;
    case ColumnForm::as_it_is:
      break;
  }
  switch (row.type(column)) {
    case sql::ValueType::integer:
      return row.integer(column);
    case sql::ValueType::real:
      return row.real(column);
    case sql::ValueType::text:
    case sql::ValueType::blob:
      return row.text(column);
    case sql::ValueType::null:
      return nullptr;
  }
  return nullptr;
}

std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

std::string json_text(const Json& value) {
  return value.dump(-1, ' ', false, Json::error_handler_t::replace);
}

/// A file that is written in larger pieces.
class ExportFile {
 public:
  explicit ExportFile(const fs::path& path) : file_(OpenFile::make(path)) {}
  void add(std::string_view text) {
    waiting_ += text;
    if (waiting_.size() < kExportPiece) return;
    file_.write(waiting_);
    waiting_.clear();
  }
  void finish() {
    file_.write(waiting_);
    file_.sync();
  }

 private:
  OpenFile file_;
  std::string waiting_;
};

ExportedTable export_table(sql::Database& db, const std::string& table, const std::string& name,
                           const fs::path& into) {
  const std::vector<ExportColumn> columns = columns_of(db, table);
  ExportedTable exported{name, {}, 0};
  std::string asked, header;
  for (const ExportColumn& column : columns) {
    asked += fmt::format("{}\"{}\"", asked.empty() ? "" : ", ", column.name);
    header += (header.empty() ? "" : ",") + csv_field(column.field);
    exported.fields.push_back(column.field);
  }
  ExportFile csv(into / (name + ".csv")), jsonl(into / (name + ".jsonl"));
  csv.add(header + "\r\n");
  sql::Statement s(db, fmt::format("select {} from \"{}\" order by 1", asked, table).c_str());
  while (s.step()) {
    Json object = Json::object();
    std::string line;
    for (std::size_t i = 0; i < columns.size(); ++i) {
      Json value = value_of(s, static_cast<int>(i), columns[i].form);
      if (i > 0) line += ",";
      if (value.is_string()) {
        line += csv_field(value.get_ref<const std::string&>());
      } else if (!value.is_null()) {
        line += json_text(value);
      }
      object[columns[i].field] = std::move(value);
    }
    csv.add(line + "\r\n");
    jsonl.add(json_text(object) + "\n");
    ++exported.rows;
  }
  csv.finish();
  jsonl.finish();
  return exported;
}

std::string contents_text(const ExportAsk& ask, int version,
                          const std::vector<ExportedTable>& tables) {
  Json listed = Json::array();
  for (const ExportedTable& table : tables) {
    listed.push_back({{"name", table.name}, {"rows", table.rows}, {"fields", table.fields}});
  }
  const Json all = {{"export_of", "tubwarden record"},
                    {"site", ask.site},
                    {"made_at", rfc3339(ask.now)},
                    {"record_version", version},
                    {"tables", listed}};
  return all.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Exported write_export(const ExportAsk& ask, const fs::path& record) {
  // A slash at the end would make the name empty.
  fs::path target = fs::absolute(ask.target);
  if (target.filename().empty()) target = target.parent_path();
  std::error_code none;
  if (fs::exists(fs::symlink_status(target, none))) {
    throw FileError(target.string() +
                    " is there already, and an export overwrites nothing; name a new folder");
  }
  sql::Database db(record.string(), sql::Database::Access::read);
  db.run("begin");  // all tables are of one moment
  if (db.user_version() < 2) {
    throw FileError(
        "the record is of version 1; start the daemon once, which brings it to the "
        "present one");
  }
  const WorkFolder work(target);
  Exported exported{target, {}};
  exported.tables.push_back(export_table(db, "told", "entries", work.path()));
  for (const std::string& table : tables_of_entries(db)) {
    exported.tables.push_back(export_table(db, table, table, work.path()));
  }
  ExportFile contents(work.path() / "contents.json");
  contents.add(contents_text(ask, db.user_version(), exported.tables));
  contents.finish();
  fs::permissions(work.path(), fs::perms(0750));
  sync_folder(work.path());
  rename_to_new(work.path(), target);
  sync_folder(target.parent_path());
  return exported;
}

}  // namespace

Result<Exported> export_entries(const ExportAsk& ask) {
  const fs::path record = ask.record / kRecordName;
  if (const auto wrong = why_not_readable(record)) return *wrong;
  try {
    return write_export(ask, record);
  } catch (const FileError& error) {
    return Error{ErrorCode::unavailable, error.what()};
  } catch (const sql::SqlError& error) {
    return Error{ErrorCode::broken, fmt::format("the record in {} could not be read: {}",
                                                ask.record.string(), error.what())};
  } catch (const fs::filesystem_error& error) {
    return Error{ErrorCode::unavailable, error.what()};
  }
}

}  // namespace tubwarden
