#include "shell/record/sqlite.hpp"

namespace tubwarden::sql {
namespace {

constexpr int kBusyWaitMs = 2000;

[[noreturn]] void fail(sqlite3* db, const std::string& doing) {
  throw SqlError(doing + ": " + (db ? sqlite3_errmsg(db) : "out of memory"));
}

}  // namespace

Database::Database(const std::string& path, Access access) {
  const int way =
      access == Access::read ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
  const int flags = way | SQLITE_OPEN_NOMUTEX;
  if (sqlite3_open_v2(path.c_str(), &db_, flags, nullptr) != SQLITE_OK) {
    const std::string why = db_ ? sqlite3_errmsg(db_) : "out of memory";
    sqlite3_close(db_);
    throw SqlError("cannot open " + path + ": " + why);
  }
  sqlite3_busy_timeout(db_, kBusyWaitMs);
}

Database::~Database() { sqlite3_close(db_); }

void Database::run(const char* statements) {
  if (sqlite3_exec(db_, statements, nullptr, nullptr, nullptr) != SQLITE_OK) fail(db_, "sqlite");
}

int Database::user_version() {
  Statement s(*this, "pragma user_version");
  s.step();
  return static_cast<int>(s.integer(0));
}

Statement::Statement(Database& db, const char* text) : db_(db) {
  check(sqlite3_prepare_v2(db_.handle(), text, -1, &statement_, nullptr));
}

bool Statement::step() {
  const int code = sqlite3_step(statement_);
  if (code == SQLITE_ROW) return true;
  if (code != SQLITE_DONE) {
    sqlite3_reset(statement_);
    fail(db_.handle(), "sqlite");
  }
  return false;
}

std::string Statement::text(int column) const {
  const auto* bytes = sqlite3_column_text(statement_, column);
  const int size = sqlite3_column_bytes(statement_, column);
  return bytes ? std::string(reinterpret_cast<const char*>(bytes), static_cast<std::size_t>(size))
               : std::string();
}

std::string_view Statement::blob(int column) const {
  const void* bytes = sqlite3_column_blob(statement_, column);
  const int size = sqlite3_column_bytes(statement_, column);
  return {static_cast<const char*>(bytes), bytes ? static_cast<std::size_t>(size) : 0};
}

ValueType Statement::type(int column) const {
  switch (sqlite3_column_type(statement_, column)) {
    case SQLITE_INTEGER:
      return ValueType::integer;
    case SQLITE_FLOAT:
      return ValueType::real;
    case SQLITE_TEXT:
      return ValueType::text;
    case SQLITE_BLOB:
      return ValueType::blob;
    default:  // an open set: plain numbers of a C interface; SQLITE_NULL is left
      return ValueType::null;
  }
}

void Statement::put(int at, Blob value) {
  check(sqlite3_bind_blob(statement_, at, value.bytes.data(), static_cast<int>(value.bytes.size()),
                          SQLITE_TRANSIENT));
}

void Statement::put(int at, std::string_view value) {
  check(sqlite3_bind_text(statement_, at, value.data(), static_cast<int>(value.size()),
                          SQLITE_TRANSIENT));
}

void Statement::check(int code) const {
  if (code != SQLITE_OK) fail(db_.handle(), "sqlite");
}

Transaction::~Transaction() {
  if (open_) sqlite3_exec(db_.handle(), "rollback", nullptr, nullptr, nullptr);
}

void Transaction::commit() {
  db_.run("commit");
  open_ = false;
}

}  // namespace tubwarden::sql
