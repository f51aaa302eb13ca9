// Cultures, jars and beds as JSON, for the control socket. For the files of this room only.
// Threading: the loop's thread. Failure: none.
#pragma once

#include <nlohmann/json.hpp>
#include <vector>

#include "core/ledger/grow_book.hpp"

namespace tubwarden {

nlohmann::ordered_json culture_view(const GrowBook& book, const Culture& culture);
nlohmann::ordered_json jar_view(const Jar& jar, WallTime now);
nlohmann::ordered_json bed_view(const Bed& bed);
/// All jars, J-9 before J-10.
std::vector<const Jar*> jars_in_order(const GrowBook& book);
/// "standing", "mixed", "contaminated" or "discarded".
std::string_view name_of(JarFate fate);

}  // namespace tubwarden
