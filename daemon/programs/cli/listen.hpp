// `tubwarden listen`: what the broker carries, and the sensor lines that would read it. It has a
// connection of its own and publishes nothing.
// Threading: blocks the caller until its time is over, or SIGINT. Failure: a broker that cannot be
// reached, or that refuses the subscription, is an Error with the way out.
#pragma once

#include <functional>
#include <string>

#include "base/result.hpp"
#include "programs/cli/listen_book.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/words.hpp"

namespace tubwarden::cli {

/// What a time of listening brought.
struct Overheard {
  ListenBook book;
  std::string url;
  Duration lasted{0};
  std::uint64_t dropped = 0;  ///< came faster than they were looked at
  std::string lost;           ///< why the connection went away meanwhile; empty: it stood
};

/// Listens; `tick` is called about each second with what was heard so far.
Result<Overheard> overhear(const Listen& wanted,
                           const std::function<void(const ListenBook&, Duration left)>& tick);

/// One short line while it goes on.
std::string still_listening(const ListenBook& book, Duration left);
/// The page: each topic with what its numbers look like, then the lines to paste.
std::string show_overheard(const Overheard& heard, const Listen& wanted, const Look& look);
/// The same as JSON text.
std::string overheard_json(const Overheard& heard, const Listen& wanted);

}  // namespace tubwarden::cli
