// The tables of version 5 for alerts seen, shelved and put off, and the messages that are to be
// delivered. For schema.cpp only. Threading: constants. Failure: none.
#pragma once

#include <array>

namespace tubwarden {

inline constexpr const char* kOutboxTables = R"sql(
)sql";

/// Of these, the append-only ones.
inline constexpr std::array<const char*, 0> kOutboxAppendOnly = {};

}  // namespace tubwarden
