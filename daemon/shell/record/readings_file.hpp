// The readings' file: plain rows, committed in groups, apart from the record so that a lost group
// of readings never touches an entry. Threading: one thread. Failure: throws SqlError; the group
// that failed is lost and counted by the caller.
#pragma once

#include <map>
#include <string>
#include <tuple>
#include <vector>

#include "ports/record.hpp"
#include "shell/record/sqlite.hpp"

namespace tubwarden {

class ReadingsFile {
 public:
  explicit ReadingsFile(const std::string& path);
  /// One transaction. Values are kept as integers of a hundredth of their unit.
  void write(const std::vector<ReadingRow>& rows);

 private:
  std::int64_t series(const ReadingRow& row);

  sql::Database db_;
  std::map<std::tuple<std::string, std::string, Quantity>, std::int64_t> series_;
};

}  // namespace tubwarden
