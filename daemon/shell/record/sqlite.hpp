// SQLite in few words: a database, a prepared statement, a transaction. For the files of this room
// only. Threading: one thread a Database. Failure: throws SqlError, which ends at this room's
// adapters.
#pragma once

#include <sqlite3.h>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace tubwarden::sql {

struct SqlError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Bytes as they are, for a parameter.
struct Blob {
  std::string_view bytes;
};

enum class ValueType { integer, real, text, blob, null };

class Database {
 public:
  enum class Access { write, read };
  /// `write` makes a file that is not there; `read` may change nothing, and looks on while another
  /// process writes.
  explicit Database(const std::string& path, Access access = Access::write);
  ~Database();
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  void run(const char* statements);
  std::int64_t last_id() const { return sqlite3_last_insert_rowid(db_); }
  int user_version();
  sqlite3* handle() { return db_; }

 private:
  sqlite3* db_ = nullptr;
};

class Statement {
 public:
  Statement(Database& db, const char* text);
  ~Statement() { sqlite3_finalize(statement_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  /// Binds all parameters in order and starts anew.
  template <class... Values>
  Statement& bind(const Values&... values) {
    sqlite3_reset(statement_);
    int at = 0;
    (put(++at, values), ...);
    return *this;
  }
  /// True while there is a row.
  bool step();
  /// For statements without rows.
  void run() {
    while (step()) {
    }
    sqlite3_reset(statement_);
  }

  std::int64_t integer(int column) const { return sqlite3_column_int64(statement_, column); }
  double real(int column) const { return sqlite3_column_double(statement_, column); }
  std::string text(int column) const;
  /// Of this row only: gone with the next step.
  std::string_view blob(int column) const;
  ValueType type(int column) const;
  bool is_null(int column) const { return sqlite3_column_type(statement_, column) == SQLITE_NULL; }

 private:
  void put(int at, std::int64_t value) { check(sqlite3_bind_int64(statement_, at, value)); }
  void put(int at, int value) { put(at, static_cast<std::int64_t>(value)); }
  void put(int at, bool value) { put(at, static_cast<std::int64_t>(value ? 1 : 0)); }
  void put(int at, double value) { check(sqlite3_bind_double(statement_, at, value)); }
  void put(int at, std::string_view value);
  void put(int at, Blob value);
  void put(int at, const std::string& value) { put(at, std::string_view(value)); }
  void put(int at, const char* value) { put(at, std::string_view(value)); }
  void put(int at, std::nullptr_t) { check(sqlite3_bind_null(statement_, at)); }
  template <class T>
  void put(int at, const std::optional<T>& value) {
    if (value) {
      put(at, *value);
    } else {
      put(at, nullptr);
    }
  }
  void check(int code) const;

  Database& db_;
  sqlite3_stmt* statement_ = nullptr;
};

/// Rolls back unless it was committed.
class Transaction {
 public:
  explicit Transaction(Database& db) : db_(db) { db_.run("begin immediate"); }
  ~Transaction();
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  void commit();

 private:
  Database& db_;
  bool open_ = true;
};

}  // namespace tubwarden::sql
