// How the words of the grow record are read. For words_grow.cpp, words_jar.cpp and words_bed.cpp
// only. Threading: pure functions. Failure: errors that name what is allowed, or the parser's own.
#pragma once

#include <string>
#include <string_view>

#include "base/result.hpp"

namespace tubwarden::cli {

[[noreturn]] void wrong_grow_word(const char* option, const std::string& why);
/// Kilograms, from kg or g.
Result<double> read_mass(std::string_view text);
/// Grams, from kg or g.
Result<double> read_grams(std::string_view text);
Result<double> read_millimetres(std::string_view text);
Result<double> read_gauge(std::string_view text);
/// A number of minutes; `min` may stand behind it.
Result<double> read_minutes(std::string_view text);
Result<double> read_percent(std::string_view text);
/// The number of an entry.
long read_entry(const std::string& text);

}  // namespace tubwarden::cli
