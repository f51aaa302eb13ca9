// What no single file can know: names that must meet, phases that must agree, and what will not
// work. Threading: pure. Failure: findings; a part found wrong is marked broken.
#pragma once

#include <map>
#include <string>
#include <unordered_map>
#include <vector>

#include "settings/readers.hpp"

namespace tubwarden {

struct ReadFolder {
  std::map<std::string, ReadProfile> profiles;  ///< by the name inside
  std::vector<ReadChamber> chambers;            ///< shared ones and tubs' own
  std::vector<ReadTub> tubs;
  RoomPlan room;
  bool room_read = false;          ///< tubwarden.yaml had no error
  bool all_tubs_named = true;      ///< false: a tub's file could not be read for its name
  bool all_profiles_named = true;  ///< likewise
  bool all_chambers_named = true;  ///< likewise
  std::vector<Finding> findings;

  void error(const std::string& file, Place at, std::string text);
  void warning(const std::string& file, Place at, std::string text);
};

/// Where to find by name; built once the names are checked.
struct FolderIndex {
  std::unordered_map<std::string, ReadChamber*> chambers;
  std::unordered_map<std::string, ReadTub*> tubs;
  std::unordered_map<std::string, std::vector<ReadTub*>> standing;  ///< by chamber, whole or not
};

/// Names that must meet.
FolderIndex cross_check(ReadFolder& folder);
/// What will not work, or not as one may think; for what is whole.
void advise(ReadFolder& folder, const FolderIndex& index);

}  // namespace tubwarden
