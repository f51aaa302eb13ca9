// The tables of readings.db, by version. Threading: the readings' thread. Failure: throws SqlError
// with what to do; a file that cannot be brought to this version is left as it was.
#pragma once

#include <string>

#include "shell/record/sqlite.hpp"

namespace tubwarden {

inline constexpr int kReadingsVersion = 2;

/// Makes a new file's tables, or brings an older file to this version. A newer one is refused.
void prepare_readings(sql::Database& db, const std::string& path);

}  // namespace tubwarden
