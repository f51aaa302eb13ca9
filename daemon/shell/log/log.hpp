// The log: one line an event, to stderr, never blocking the loop (bounded queue, oldest
// overwritten), and within limits: see line_limit.hpp. Threading: any thread. Failure: what a full
// queue, a flood or a stderr that nobody reads has cost is counted.
#pragma once

#include <cstdint>
#include <string_view>

namespace tubwarden::log {

enum class Level { debug, info, warning, error };

/// Starts the writer thread. Before start() and after stop() lines go to stderr directly.
void start(Level least);
/// What waits is written, as far as somebody reads it; takes a second at most when nobody does.
void stop();
void write(Level level, std::string_view line);

inline void debug(std::string_view line) { write(Level::debug, line); }
inline void info(std::string_view line) { write(Level::info, line); }
inline void warning(std::string_view line) { write(Level::warning, line); }
inline void error(std::string_view line) { write(Level::error, line); }

/// Lines lost since the start; lines counted as repeated are told, not lost.
std::uint64_t lost();

}  // namespace tubwarden::log
