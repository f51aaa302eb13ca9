// What the answers about cultures, jars and beds have in common: acts are judged, kept on disk and
// in the book. For the files of this room only.
// Threading: the loop's thread. Failure: an act that is refused is answered with the way out, and
// nothing of it is kept; one that the disk could not keep leaves the book as it was.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "shell/warden/asked.hpp"

namespace tubwarden {

/// At most so many jars in one request.
inline constexpr std::size_t kJarsAtOnceMax = 500;

/// Judges all acts, keeps them in one transaction and answers {entry, entries, on_disk, text,
/// done (with `on`)} and what `more` says once they are in the book. `text` empty: the acts in
/// words. The request's `on` says when it was done (RFC 3339; now without), `note` and `photo` go
/// with each entry.
void keep_acts(Asked& asked, std::vector<GrowAct> acts, std::string text = "",
               const std::function<nlohmann::ordered_json()>& more = {});

/// Whether an id is a jar, culture, run, substrate or batch of the book.
bool is_of_grow(const GrowBook& book, const std::string& id);

/// The tub an act is about and the batch that is open in it; nothing after answering.
struct BedNamed {
  std::string tub, batch;
};
std::optional<BedNamed> bed_named(Asked& asked);

/// A number that must be there; nothing after answering.
std::optional<double> number_named(Asked& asked, const char* name, const char* example);

/// Groups of jars that share something with this one, how many of each are contaminated, and which
/// to watch.
nlohmann::ordered_json siblings_view(const Warden::State& s, const Jar& jar);

/// A wall time as RFC 3339, or null.
nlohmann::ordered_json time_of(const std::optional<WallTime>& at);

/// The ids an act about jars names in `jars`, each once; empty after answering.
std::vector<std::string> jars_named(Asked& asked);

}  // namespace tubwarden
