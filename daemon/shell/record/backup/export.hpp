// Every entry of the record as CSV (RFC 4180) and JSON Lines, a pair of files a table, for
// spreadsheets and programs; docs/record.md has each field. Reads a snapshot, as make_backup does.
// Threading: blocks the caller, who has no outputs to keep. Failure: an Error with the way out, and
// no folder.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "base/time.hpp"

namespace tubwarden {

struct ExportAsk {
  std::filesystem::path record;  ///< the record's folder
  std::filesystem::path target;  ///< a folder that is not there yet
  std::string site;
  WallTime now{};
};

struct ExportedTable {
  std::string name;
  std::vector<std::string> fields;
  std::uint64_t rows = 0;
};

struct Exported {
  std::filesystem::path folder;
  std::vector<ExportedTable> tables;  ///< `entries` first, the others by name
};

/// `entries`, and each table that has more of an entry than that.
Result<Exported> export_entries(const ExportAsk& ask);

}  // namespace tubwarden
