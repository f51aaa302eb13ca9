// A record of many jars: cultures, sterilising runs, jars that were looked at and shaken.
// Threading: blocking. Failure: throws SqlError.
#pragma once

#include <string>

namespace bench {

/// Writes record.db into a folder, which is made: ten jars a culture and a run, each looked at and
/// shaken, a tenth contaminated, the newest inoculated 20 days ago; those of the newest 30 runs
/// stand, the others have ended.
void write_jars(const std::string& folder, int jars);

}  // namespace bench
