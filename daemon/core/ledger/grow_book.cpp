#include "core/ledger/grow_book.hpp"

#include <algorithm>
#include <charconv>
#include <numeric>
#include <set>

namespace tubwarden {
namespace {

constexpr std::string_view kJarPrefix = "J-";

/// The number behind "J-"; 0 for any other id.
std::int64_t number_of(std::string_view jar) {
  if (!jar.starts_with(kJarPrefix)) return 0;
  jar.remove_prefix(kJarPrefix.size());
  std::int64_t number = 0;
  const auto [end, fault] = std::from_chars(jar.data(), jar.data() + jar.size(), number);
  return fault == std::errc{} && end == jar.data() + jar.size() ? number : 0;
}

template <class Map>
auto* in(Map& map, const std::string& id) {
  const auto it = map.find(id);
  return it == map.end() ? nullptr : &it->second;
}

/// Out of fruiting for less is a slip, not the end of a flush.
constexpr milliseconds kFlushApart = minutes(10);

WallTime begun(const Flush& flush) {
  const WallTime never = WallTime::max();
  return std::min(flush.pins.value_or(never), flush.picks.empty() ? never : flush.picks.front().at);
}

/// The flush that a pin or a pick at that time belongs to: one that is not cleaned yet, and of the
/// same stay in fruiting as its picks; else a new one, numbered by time.
Flush& open_flush(Bed& bed, WallTime at) {
  const PhaseSpan* span = bed.phase_at(at);
  const int stay = span ? span->flush : 0;
  for (auto flush = bed.flushes.rbegin(); flush != bed.flushes.rend(); ++flush) {
    // Pins may come in the rest before the stay that they are picked in.
    const bool same =
        flush->stay == stay || (flush->picks.empty() && flush->pins && flush->stay + 1 == stay);
    const bool open = !flush->cleaned || (at <= *flush->cleaned && at >= begun(*flush));
    if (same && open) return *flush;
  }
  const auto later = std::find_if(bed.flushes.begin(), bed.flushes.end(),
                                  [at](const Flush& flush) { return begun(flush) > at; });
  const auto fresh = bed.flushes.insert(later, Flush{});
  fresh->stay = stay;
  int number = 0;
  for (Flush& flush : bed.flushes) flush.number = ++number;
  return *fresh;
}

/// How many stays in fruiting have begun with this span.
int stays_in_fruiting(const Bed& bed, const PhaseSpan& span) {
  const PhaseSpan* before = bed.phases.empty() ? nullptr : &bed.phases.back();
  const int so_far = before ? before->flush : 0;
  if (!span.cropping || (before && before->cropping)) return so_far;
  for (std::size_t i = bed.phases.size(); i-- > 1;) {
    if (!bed.phases[i].cropping && bed.phases[i - 1].cropping) {
      return span.from - bed.phases[i].from < kFlushApart ? so_far : so_far + 1;
    }
  }
  return so_far + 1;
}

void end_jar(Jar& jar, JarFate fate, WallTime at, const std::string& text) {
  jar.fate = fate;
  jar.fate_at = at;
  jar.fate_text = text;
}

}  // namespace

double Flush::grams() const {
  return std::accumulate(picks.begin(), picks.end(), 0.0,
                         [](double sum, const Pick& pick) { return sum + pick.grams; });
}

double Bed::grams() const {
  return std::accumulate(flushes.begin(), flushes.end(), 0.0,
                         [](double sum, const Flush& flush) { return sum + flush.grams(); });
}

const PhaseSpan* Bed::phase_at(WallTime at) const {
  const PhaseSpan* found = nullptr;
  for (const PhaseSpan& span : phases) {
    if (span.from <= at) found = &span;
  }
  return found;
}

/// How each act changes the state; nothing is judged here.
struct GrowTaking {
  GrowState& s;
  WallTime at;

  Bed& bed(const std::string& tub, const std::string& batch) const {
    Bed& found = s.beds[{tub, batch}];
    found.tub = tub;
    found.batch = batch;
    return found;
  }
  void dose(const std::string& culture, double millilitres) const {
    Culture* from = in(s.cultures, culture);
    if (!from) return;
    from->used_ml += millilitres;
    if (!from->opened) from->opened = at;
  }

  void operator()(const CultureReceived& a) const {
    s.cultures[a.culture] = {a.culture, a.strain, a.source, a.millilitres, 0.0, at, {}, {}};
  }
  void operator()(const CultureOpened& a) const {
    if (Culture* culture = in(s.cultures, a.culture)) culture->opened = at;
  }
  void operator()(const CultureDiscarded& a) const {
    if (Culture* culture = in(s.cultures, a.culture)) culture->discarded = at;
  }
  void operator()(const Sterilised& a) const {
    s.runs[a.run] = {a.run, a.what, at, a.hold, a.gauge_kpa, a.f0_minutes};
  }
  void operator()(const JarsAdded& a) const {
    for (const std::string& id : a.jars) {
      Jar& jar = s.jars[id];
      jar = Jar{};
      jar.id = id;
      jar.batch = a.batch;
      jar.grain = a.grain;
      jar.run = a.run;
      jar.culture = a.culture;
      jar.shelf = a.shelf;
      jar.dose_ml = a.dose_ml;
      jar.fill_g = a.fill_g;
      jar.vented = a.vented;
      jar.added = at;
      if (!a.culture.empty()) jar.inoculated = at;
      if (!a.shelf.empty()) jar.stays.push_back({at, a.shelf});
    }
    if (!a.culture.empty()) dose(a.culture, a.dose_ml * static_cast<double>(a.jars.size()));
  }
  void operator()(const JarsInoculated& a) const {
    for (const std::string& id : a.jars) {
      Jar* jar = in(s.jars, id);
      if (!jar) continue;
      jar->culture = a.culture;
      jar->dose_ml = a.dose_ml;
      jar->inoculated = at;
    }
    dose(a.culture, a.dose_ml * static_cast<double>(a.jars.size()));
  }
  void operator()(const JarLookedAt& a) const {
    Jar* jar = in(s.jars, a.jar);
    if (!jar) return;
    auto& looks = jar->looks;
    const auto later =
        std::upper_bound(looks.begin(), looks.end(), at,
                         [](WallTime t, const JarLook& look) { return t < look.at; });
    looks.insert(later, {at, a.grown_pct});
  }
  void operator()(const JarShaken& a) const {
    Jar* jar = in(s.jars, a.jar);
    if (!jar) return;
    jar->shaken.insert(std::upper_bound(jar->shaken.begin(), jar->shaken.end(), at), at);
  }
  void operator()(const JarsMoved& a) const {
    for (const std::string& id : a.jars) {
      Jar* jar = in(s.jars, id);
      if (!jar) continue;
      jar->shelf = a.shelf;
      jar->stays.push_back({at, a.shelf});
    }
  }
  void operator()(const JarContaminated& a) const {
    Jar* jar = in(s.jars, a.jar);
    if (!jar) return;
    jar->contaminated = at;
    end_jar(*jar, JarFate::contaminated, at, a.seen);
  }
  void operator()(const JarDiscarded& a) const {
    if (Jar* jar = in(s.jars, a.jar)) end_jar(*jar, JarFate::discarded, at, a.why);
  }
  void operator()(const SubstrateMade& a) const {
    s.mixes[a.mix] = {a.mix, a.of, at, a.dry_kg, a.water_kg};
  }
  void operator()(const TubSpawned& a) const {
    Bed& filled = bed(a.tub, a.batch);
    filled.spawned = at;
    filled.jars = a.jars;
    filled.mix = a.mix;
    filled.substrate_kg = a.substrate_kg;
    filled.dry_kg = a.dry_kg;
    filled.surface_m2 = a.surface_m2;
    if (const auto mix = s.mixes.find(a.mix); mix != s.mixes.end() && !a.dry_kg) {
      const Mix& m = mix->second;
      filled.dry_kg = a.substrate_kg * m.dry_kg / (m.dry_kg + m.water_kg);
    }
    for (const std::string& id : a.jars) {
      Jar* jar = in(s.jars, id);
      if (!jar) continue;
      end_jar(*jar, JarFate::mixed, at, "");
      jar->into_tub = a.tub;
      jar->into_batch = a.batch;
    }
  }
  void operator()(const TubCased& a) const {
    Bed& cased = bed(a.tub, a.batch);
    cased.cased = at;
    cased.casing_mm = a.depth_mm;
  }
  void operator()(const PinsSeen& a) const {
    Bed& pinned = bed(a.tub, a.batch);
    // New pins after a pick: the flush before is over.
    for (Flush& flush : pinned.flushes) {
      const bool picked = !flush.picks.empty() && flush.picks.back().at < at;
      if (picked && !flush.cleaned) flush.cleaned = at;
    }
    Flush& flush = open_flush(pinned, at);
    if (!flush.pins) flush.pins = at;
    flush.pin_mm = std::max(flush.pin_mm, a.size_mm);
  }
  void operator()(const Picked& a) const {
    Bed& picked = bed(a.tub, a.batch);
    Flush& flush = open_flush(picked, at);
    if (const PhaseSpan* span = picked.phase_at(at); span && flush.picks.empty()) {
      flush.stay = span->flush;
    }
    flush.picks.push_back({at, a.grams, a.count});
  }
  void operator()(const FlushCleaned& a) const { open_flush(bed(a.tub, a.batch), at).cleaned = at; }
  void operator()(const TubContaminated& a) const {
    Bed& spoiled = bed(a.tub, a.batch);
    spoiled.contaminated = at;
    spoiled.contamination = a.seen;
  }
  void operator()(const Observed&) const {}
  void operator()(const UpkeepDone& a) const { s.upkeep[a.what + " " + a.of] = at; }
  void operator()(const Undone&) const {}
};

void GrowBook::take(GrowState& state, const GrowEntry& entry) {
  std::visit(GrowTaking{state, entry.at}, entry.act);
}

void GrowBook::take(GrowState& state, const Told& told) {
  Bed& bed = state.beds[{told.tub, told.batch}];
  bed.tub = told.tub;
  bed.batch = told.batch;
  PhaseSpan span = told.span;
  if (span.flush == 0) span.flush = stays_in_fruiting(bed, span);
  bed.phases.push_back(std::move(span));
}

std::size_t GrowBook::apply(GrowEntry entry) {
  if (const auto* added = std::get_if<JarsAdded>(&entry.act)) {
    for (const std::string& id : added->jars) highest_jar_ = std::max(highest_jar_, number_of(id));
  }
  const bool undo = std::holds_alternative<Undone>(entry.act);
  entries_.push_back(std::move(entry));
  if (undo) {
    rebuild();
  } else {
    take(state_, entries_.back());
  }
  return entries_.size() - 1;
}

void GrowBook::on_disk(std::size_t place, std::int64_t entry) { entries_[place].entry = entry; }

void GrowBook::drop(std::size_t place) {
  dropped_.insert(place);
  rebuild();
}

void GrowBook::phase(const std::string& tub, const std::string& batch, PhaseSpan span) {
  phases_.push_back({tub, batch, std::move(span)});
  take(state_, phases_.back());
}

void GrowBook::rebuild() {
  state_ = GrowState{};
  undone_.clear();
  for (std::size_t i = 0; i < entries_.size(); ++i) {
    const auto* undo = std::get_if<Undone>(&entries_[i].act);
    if (undo && !dropped_.contains(i)) undone_.insert(undo->entry);
  }
  for (const Told& told : phases_) take(state_, told);
  for (std::size_t i = 0; i < entries_.size(); ++i) {
    if (stands(i)) take(state_, entries_[i]);
  }
}

bool GrowBook::stands(std::size_t place) const {
  const std::int64_t entry = entries_[place].entry;
  return !dropped_.contains(place) && (entry == 0 || !undone_.contains(entry));
}

const GrowEntry* GrowBook::last() const {
  for (std::size_t i = entries_.size(); i-- > 0;) {
    if (stands(i) && !std::holds_alternative<Undone>(entries_[i].act)) return &entries_[i];
  }
  return nullptr;
}

const GrowEntry* GrowBook::find(std::int64_t entry) const {
  const auto it = std::find_if(entries_.begin(), entries_.end(),
                               [&](const GrowEntry& e) { return e.entry == entry; });
  return it == entries_.end() || entry == 0 ? nullptr : &*it;
}

const Jar* GrowBook::jar(const std::string& id) const {
  const auto it = state_.jars.find(id);
  return it == state_.jars.end() ? nullptr : &it->second;
}

const Bed* GrowBook::bed(const std::string& tub, const std::string& batch) const {
  const auto it = state_.beds.find({tub, batch});
  return it == state_.beds.end() ? nullptr : &it->second;
}

std::vector<std::string> GrowBook::batches() const {
  std::set<std::string> ids;
  for (const auto& [id, jar] : state_.jars) ids.insert(jar.batch);
  for (const auto& [key, bed] : state_.beds) ids.insert(key.second);
  return {ids.begin(), ids.end()};
}

std::vector<std::string> GrowBook::next_jars(std::size_t count) const {
  std::vector<std::string> ids;
  for (std::size_t i = 1; i <= count; ++i) {
    ids.push_back(std::string(kJarPrefix) +
                  std::to_string(highest_jar_ + static_cast<std::int64_t>(i)));
  }
  return ids;
}

}  // namespace tubwarden
