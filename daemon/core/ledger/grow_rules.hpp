// What the judgements of a grow's acts have in common. For grow_judge.cpp only.
// Threading: plain values. Failure: an Outcome that says the way out.
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

#include "base/text.hpp"
#include "core/ledger/grow_book.hpp"

namespace tubwarden::judging {

// Ranges that only a slip of the finger leaves (choice, no source).
inline constexpr double kDoseMl[] = {0.01, 50.0};
inline constexpr std::size_t kJarsAtOnce = 500;
inline constexpr std::size_t kIdLongest = 32;
inline constexpr std::size_t kWordsLongest = 2000;
/// Two weighings of one dose differ by as much.
inline constexpr double kLeftOver = 1e-6;

inline Error refused(std::string text) { return {ErrorCode::refused, std::move(text)}; }
inline Error wrong(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

inline Outcome in_range(double value, const double (&range)[2], const char* what,
                        const char* unit) {
  if (std::isfinite(value) && value >= range[0] && value <= range[1]) return Done{};
  return wrong(fmt::format("{} of {} {}: allowed are {} to {} {}", what, trimmed(value), unit,
                           trimmed(range[0]), trimmed(range[1]), unit));
}

inline Outcome good_id(const std::string& id, const char* kind) {
  const auto plain = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_' || c == '.';
  };
  const bool good = !id.empty() && id.size() <= kIdLongest && id.front() != '-' &&
                    id.front() != '.' && std::all_of(id.begin(), id.end(), plain);
  if (good) return Done{};
  return wrong(
      fmt::format("'{}' is no id for a {}: allowed are up to {} letters, digits, - _ and "
                  "., no - or . in front",
                  id, kind, kIdLongest));
}

inline std::string day_told(WallTime at) { return rfc3339(at).substr(0, 10); }

template <class Map>
Error unknown_in(const Map& map, const std::string& id, const char* kind, const char* way_out) {
  std::vector<std::string_view> words;
  for (const auto& [known, unused] : map) words.push_back(known);
  const auto near = nearest(id, words);
  return {ErrorCode::not_found,
          fmt::format("no {} is called '{}'{}; {}", kind, id,
                      near ? fmt::format(" (nearest: {})", *near) : "", way_out)};
}

inline std::string end_told(const Jar& jar) {
  switch (jar.fate) {
    case JarFate::standing:
      return "stands";
    case JarFate::mixed:
      return fmt::format("was mixed into {} on {}", jar.into_tub, day_told(jar.fate_at));
    case JarFate::contaminated:
      return fmt::format("has been contaminated since {}", day_told(jar.fate_at));
    case JarFate::discarded:
      return fmt::format("was discarded on {}", day_told(jar.fate_at));
  }
  return "";
}

/// Goes on only when it is well.
#define TRY(outcome) \
  if (const Outcome tried = (outcome); !tried.ok()) return tried

/// What stands, when the act was done, and the rules that several kinds of act share.
struct GrowRules {
  const GrowState& s;
  WallTime at;
  const GrowSite& site;

  Outcome not_before(WallTime earliest, const std::string& what) const {
    if (at >= earliest) return Done{};
    return refused(
        fmt::format("{} is before {} on {}; say the day with --on, or take the wrong "
                    "entry back with: tubwarden undo ENTRY",
                    day_told(at), what, rfc3339(earliest).substr(0, 16)));
  }

  Result<const Culture*> culture(const std::string& id) const {
    const auto it = s.cultures.find(id);
    if (it == s.cultures.end()) {
      return unknown_in(s.cultures, id, "culture",
                        "enter it first: tubwarden culture receive ID --volume 10mL");
    }
    const Culture& found = it->second;
    if (found.discarded) {
      return refused(fmt::format("what was left of {} was thrown away on {}; name another culture",
                                 id, day_told(*found.discarded)));
    }
    if (const Outcome after = not_before(found.received, id + " was received"); !after.ok()) {
      return after.error();
    }
    return &found;
  }

  Outcome drawn(const std::string& id, double dose, std::size_t jars) const {
    const auto from = culture(id);
    if (!from.ok()) return from.error();
    TRY(in_range(dose, kDoseMl, "a dose", "mL"));
    const double needed = dose * static_cast<double>(jars);
    const double left = (*from)->left_ml();
    if (needed <= left + kLeftOver) return Done{};
    const auto enough = static_cast<int>(std::floor((left + kLeftOver) / dose));
    return refused(fmt::format(
        "{} has {} mL left of {} mL; {} of {} mL {} {} mL. It is enough for {}; take another "
        "culture for the rest",
        id, trimmed(left), trimmed((*from)->millilitres),
        jars == 1 ? "a dose" : fmt::format("{} doses", jars), trimmed(dose),
        jars == 1 ? "needs" : "need", trimmed(needed),
        enough == 1 ? "1 jar" : fmt::format("{} jars", enough)));
  }

  Result<const Jar*> any_jar(const std::string& id) const {
    const auto it = s.jars.find(id);
    if (it == s.jars.end()) {
      return unknown_in(s.jars, id, "jar", "the jars there are: tubwarden jar list");
    }
    if (const Outcome after = not_before(it->second.added, id + " was filled"); !after.ok()) {
      return after.error();
    }
    return &it->second;
  }

  /// One that stood then: what was seen before it was mixed may be entered afterwards.
  Result<const Jar*> standing_jar(const std::string& id) const {
    const auto jar = any_jar(id);
    if (!jar.ok() || (*jar)->stands() || at < (*jar)->fate_at) return jar;
    return refused(
        fmt::format("jar {} {}; if that is wrong, take it back with: tubwarden undo "
                    "ENTRY (tubwarden trace {} shows the entries)",
                    id, end_told(**jar), id));
  }

  Outcome each_once(const std::vector<std::string>& jars) const {
    if (jars.empty()) return wrong("no jar is named");
    if (jars.size() > kJarsAtOnce) {
      return wrong(fmt::format("{} jars at once: allowed are {}", jars.size(), kJarsAtOnce));
    }
    std::set<std::string> seen;
    for (const std::string& id : jars) {
      if (!seen.insert(id).second) return wrong(fmt::format("jar {} is named twice", id));
    }
    return Done{};
  }

  Outcome on_shelf(const std::string& shelf) const {
    const auto& known = site.shelves;
    if (std::find(known.begin(), known.end(), shelf) != known.end()) return Done{};
    const std::vector<std::string_view> words(known.begin(), known.end());
    const auto near = nearest(shelf, words);
    return Error{ErrorCode::not_found,
                 fmt::format("no shelf is called '{}'{}; {}", shelf,
                             near ? fmt::format(" (nearest: {})", *near) : "",
                             known.empty() ? "there is none: a file in tubs/ with `shelf: NAME` "
                                             "makes one"
                                           : fmt::format("there are: {}", fmt::join(known, ", ")))};
  }

  /// A tub's bed that has been filled.
  Result<const Bed*> filled(const std::string& tub, const std::string& batch) const {
    const auto it = s.beds.find({tub, batch});
    if (it == s.beds.end() || !it->second.spawned) {
      return refused(
          fmt::format("{0} has not been filled with batch {1} by the record; enter that "
                      "first: tubwarden spawn {0} --jars ... --substrate 5kg",
                      tub, batch));
    }
    const Outcome after = not_before(*it->second.spawned, tub + " was filled");
    if (!after.ok()) return after.error();
    return &it->second;
  }

  template <class Map>
  Outcome is_new(const Map& map, const std::string& id, const char* kind) const {
    TRY(good_id(id, kind));
    if (!map.contains(id)) return Done{};
    return refused(fmt::format("there is a {} {} already; name another id", kind, id));
  }

  Outcome words(const std::string& text, const char* what) const {
    if (text.size() <= kWordsLongest) return Done{};
    return wrong(fmt::format("{} is too long: allowed are {} letters", what, kWordsLongest));
  }
};

}  // namespace tubwarden::judging
