// What no single file can know: names that must meet, phases that must agree, and what will not
// work. Threading: pure. Failure: findings; a part found wrong is marked broken.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "settings/readers.hpp"

namespace tubwarden {

struct ReadFolder {
  std::map<std::string, ReadProfile> profiles;  ///< by the name inside
  std::vector<ReadChamber> chambers;            ///< shared ones and tubs' own
  std::vector<ReadTub> tubs;
  RoomPlan room;
  std::vector<Finding> findings;
};

void cross_check(ReadFolder& folder);

}  // namespace tubwarden
