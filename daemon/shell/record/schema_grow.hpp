// The tables of version 5 for what a grower does with cultures, jars and tubs. For schema.cpp only.
// Threading: constants. Failure: none.
#pragma once

#include <array>

namespace tubwarden {

inline constexpr const char* kGrowTables = R"sql(
)sql";

/// Of these, the append-only ones.
inline constexpr std::array<const char*, 0> kGrowAppendOnly = {};

}  // namespace tubwarden
