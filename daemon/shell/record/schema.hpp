// The record's schema, by version. Entries are append-only: triggers refuse to change or delete
// them. Threading: the record's thread. Failure: throws SqlError with what to do.
#pragma once

#include <string>

#include "shell/record/sqlite.hpp"

namespace tubwarden {

inline constexpr int kSchemaVersion = 5;

/// Makes a new file's tables, or brings an older file to this version, in one transaction. A newer
/// one is refused.
void prepare_record(sql::Database& db, const std::string& path);

}  // namespace tubwarden
