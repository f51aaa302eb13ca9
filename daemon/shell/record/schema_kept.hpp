// The tables of version 5 for the climate that each phase kept, and what ended it. For schema.cpp
// only. Threading: constants. Failure: none.
#pragma once

#include <array>

namespace tubwarden {

inline constexpr const char* kKeptTables = R"sql(
)sql";

/// Of these, the append-only ones.
inline constexpr std::array<const char*, 0> kKeptAppendOnly = {};

}  // namespace tubwarden
