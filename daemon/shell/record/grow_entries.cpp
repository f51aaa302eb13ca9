// A grower's acts into their tables, and back.
#include <unordered_map>

#include "shell/record/clock_offset.hpp"
#include "shell/record/record_file.hpp"

namespace tubwarden {
namespace {

/// The row or rows of one act, behind its row in grow_entry.
struct GrowRows {
  sql::Database& db;
  std::int64_t entry;

  template <class... Values>
  void row(const char* statement, const Values&... values) const {
    sql::Statement(db, statement).bind(entry, values...).run();
  }
  void culture_event(const std::string& culture, const char* what, const std::string& why) const {
    row("insert into culture_event values(?,?,?,?)", culture, what, why);
  }
  void jar_event(const std::string& jar, const char* what, const std::string& text) const {
    row("insert into jar_event(entry, jar, what, text) values(?,?,?,?)", jar, what, text);
  }
  void doses(const std::vector<std::string>& jars, const std::string& culture, double ml) const {
    for (const std::string& jar : jars) {
      row("insert into inoculation(entry, jar, culture, dose_ml) values(?,?,?,?)", jar, culture,
          ml);
    }
  }
  void bed_event(const std::string& tub, const std::string& batch, const char* what,
                 std::optional<double> mm, const std::string& text) const {
    row("insert into bed_event values(?,?,?,?,?,?)", tub, batch, what, mm, text);
  }

  void operator()(const CultureReceived& a) const {
    row("insert into culture values(?,?,?,?,?)", a.culture, a.strain, a.source, a.millilitres);
  }
  void operator()(const CultureOpened& a) const { culture_event(a.culture, "opened", ""); }
  void operator()(const CultureDiscarded& a) const { culture_event(a.culture, "discarded", a.why); }
  void operator()(const Sterilised& a) const {
    row("insert into sterilising values(?,?,?,?,?,?)", a.run, a.what,
        static_cast<std::int64_t>(a.hold.count()), a.gauge_kpa, a.f0_minutes);
  }
  void operator()(const JarsAdded& a) const {
    for (const std::string& jar : a.jars) {
      row("insert into jar(entry, jar, batch, grain, run, shelf, fill_g, vented) "
          "values(?,?,?,?,?,?,?,?)",
          jar, a.batch, a.grain, a.run, a.shelf, a.fill_g, a.vented);
    }
    if (!a.culture.empty()) doses(a.jars, a.culture, a.dose_ml);
  }
  void operator()(const JarsInoculated& a) const { doses(a.jars, a.culture, a.dose_ml); }
  void operator()(const JarLookedAt& a) const {
    row("insert into jar_look values(?,?,?)", a.jar, a.grown_pct);
  }
  void operator()(const JarShaken& a) const { jar_event(a.jar, "shaken", ""); }
  void operator()(const JarsMoved& a) const {
    for (const std::string& jar : a.jars) jar_event(jar, "moved", a.shelf);
  }
  void operator()(const JarContaminated& a) const { jar_event(a.jar, "contaminated", a.seen); }
  void operator()(const JarDiscarded& a) const { jar_event(a.jar, "discarded", a.why); }
  void operator()(const SubstrateMade& a) const {
    row("insert into mix values(?,?,?,?,?)", a.mix, a.of, a.dry_kg, a.water_kg);
  }
  void operator()(const TubSpawned& a) const {
    row("insert into spawning values(?,?,?,?,?,?,?)", a.tub, a.batch, a.mix, a.substrate_kg,
        a.dry_kg, a.surface_m2);
    for (const std::string& jar : a.jars) {
      row("insert into spawning_jar(entry, jar) values(?,?)", jar);
    }
  }
  void operator()(const TubCased& a) const {
    bed_event(a.tub, a.batch, "cased", a.depth_mm, a.with);
  }
  void operator()(const PinsSeen& a) const { bed_event(a.tub, a.batch, "pins", a.size_mm, ""); }
  void operator()(const Picked& a) const {
    row("insert into picking values(?,?,?,?,?)", a.tub, a.batch, a.grams, a.count);
  }
  void operator()(const FlushCleaned& a) const { bed_event(a.tub, a.batch, "cleaned", {}, ""); }
  void operator()(const TubContaminated& a) const {
    bed_event(a.tub, a.batch, "contaminated", {}, a.seen);
  }
  void operator()(const Observed& a) const {
    row("insert into observation values(?,?,?)", a.of, a.text);
  }
  void operator()(const UpkeepDone& a) const {
    row("insert into upkeep values(?,?,?)", a.what, a.of);
  }
  void operator()(const Undone& a) const { row("insert into undone values(?,?)", a.entry); }
};

/// All acts of the record, table by table; each row finds its act by its entry.
class GrowReader {
 public:
  explicit GrowReader(sql::Database& db) : db_(db) {}

  std::vector<GrowEntry> read() {
    each(
        "select g.entry, g.at_ms, e.who, g.note, g.photo from grow_entry g join entry e on "
        "e.id=g.entry order by g.entry",
        [&](const sql::Statement& s) {
          GrowEntry entry;
          entry.entry = s.integer(0);
          entry.at = WallTime(milliseconds(s.integer(1)));
          entry.who = s.text(2);
          entry.note = s.text(3);
          entry.photo = s.text(4);
          places_[entry.entry] = entries_.size();
          entries_.push_back(std::move(entry));
        });
    cultures();
    jars();
    beds();
    others();
    return std::move(entries_);
  }

 private:
  template <class Take>
  void each(const char* query, Take take) {
    sql::Statement s(db_, query);
    while (s.step()) take(s);
  }
  GrowAct& act(const sql::Statement& s) { return entries_[places_.at(s.integer(0))].act; }
  /// Acts with several rows: the first row makes the act, all add to it.
  template <class Act, class Make>
  Act& joined(const sql::Statement& s, Make make) {
    GrowEntry& entry = entries_[places_.at(s.integer(0))];
    if (!std::holds_alternative<Act>(entry.act)) entry.act = make();
    return std::get<Act>(entry.act);
  }
  static std::optional<double> real(const sql::Statement& s, int column) {
    return s.is_null(column) ? std::nullopt : std::optional(s.real(column));
  }

  void cultures() {
    each("select * from culture", [&](const sql::Statement& s) {
      act(s) = CultureReceived{s.text(1), s.text(2), s.text(3), s.real(4)};
    });
    each("select * from culture_event", [&](const sql::Statement& s) {
      if (s.text(2) == "opened") {
        act(s) = CultureOpened{s.text(1)};
      } else {
        act(s) = CultureDiscarded{s.text(1), s.text(3)};
      }
    });
    each("select * from sterilising", [&](const sql::Statement& s) {
      act(s) = Sterilised{s.text(1), s.text(2), Duration(s.integer(3)), real(s, 4), real(s, 5)};
    });
  }
  void jars() {
    each("select entry, jar, batch, grain, run, shelf, fill_g, vented from jar order by id",
         [&](const sql::Statement& s) {
           auto& added = joined<JarsAdded>(s, [&] {
             JarsAdded a;
             a.batch = s.text(2);
             a.grain = s.text(3);
             a.run = s.text(4);
             a.shelf = s.text(5);
             a.fill_g = real(s, 6);
             a.vented = s.integer(7) != 0;
             return a;
           });
           added.jars.push_back(s.text(1));
         });
    each("select entry, jar, culture, dose_ml from inoculation order by id",
         [&](const sql::Statement& s) {
           if (auto* added = std::get_if<JarsAdded>(&act(s))) {
             added->culture = s.text(2);
             added->dose_ml = s.real(3);
             return;
           }
           auto& given = joined<JarsInoculated>(s, [&] {
             return JarsInoculated{{}, s.text(2), s.real(3)};
           });
           given.jars.push_back(s.text(1));
         });
    each("select * from jar_look", [&](const sql::Statement& s) {
      act(s) = JarLookedAt{s.text(1), s.real(2)};
    });
    each("select entry, jar, what, text from jar_event order by id",
         [&](const sql::Statement& s) { jar_event(s); });
  }
  void jar_event(const sql::Statement& s) {
    const std::string what = s.text(2);
    if (what == "shaken") {
      act(s) = JarShaken{s.text(1)};
    } else if (what == "contaminated") {
      act(s) = JarContaminated{s.text(1), s.text(3)};
    } else if (what == "discarded") {
      act(s) = JarDiscarded{s.text(1), s.text(3)};
    } else {
      auto& moved = joined<JarsMoved>(s, [&] { return JarsMoved{{}, s.text(3)}; });
      moved.jars.push_back(s.text(1));
    }
  }
  void beds() {
    each("select * from mix", [&](const sql::Statement& s) {
      act(s) = SubstrateMade{s.text(1), s.text(2), s.real(3), s.real(4)};
    });
    each("select * from spawning", [&](const sql::Statement& s) {
      act(s) = TubSpawned{s.text(1), s.text(2), {}, s.text(3), s.real(4), real(s, 5), real(s, 6)};
    });
    each("select entry, jar from spawning_jar order by id",
         [&](const sql::Statement& s) { std::get<TubSpawned>(act(s)).jars.push_back(s.text(1)); });
    each("select * from bed_event", [&](const sql::Statement& s) {
      const std::string what = s.text(3);
      if (what == "cased") {
        act(s) = TubCased{s.text(1), s.text(2), s.text(5), real(s, 4)};
      } else if (what == "pins") {
        act(s) = PinsSeen{s.text(1), s.text(2), s.real(4)};
      } else if (what == "cleaned") {
        act(s) = FlushCleaned{s.text(1), s.text(2)};
      } else {
        act(s) = TubContaminated{s.text(1), s.text(2), s.text(5)};
      }
    });
    each("select * from picking", [&](const sql::Statement& s) {
      act(s) = Picked{s.text(1), s.text(2), s.real(3), real(s, 4)};
    });
  }
  void others() {
    each("select * from observation", [&](const sql::Statement& s) {
      act(s) = Observed{s.text(1), s.text(2)};
    });
    each("select * from upkeep", [&](const sql::Statement& s) {
      act(s) = UpkeepDone{s.text(1), s.text(2)};
    });
    each("select * from undone", [&](const sql::Statement& s) { act(s) = Undone{s.integer(1)}; });
  }

  sql::Database& db_;
  std::vector<GrowEntry> entries_;
  std::unordered_map<std::int64_t, std::size_t> places_;
};

}  // namespace

std::int64_t RecordFile::put(const Entry& entry, const GrowNoted& g) {
  const auto* undo = std::get_if<Undone>(&g.grow.act);
  std::string text = told(g.grow.act);
  if (!g.grow.note.empty()) text += "; " + g.grow.note;
  const std::string kind(kind_of(g.grow.act));
  const auto id = spine(entry, kind.c_str(), {g.tub, "", g.batch}, text,
                        undo ? std::optional(undo->entry) : std::nullopt);
  sql::Statement(db_, "insert into grow_entry values(?,?,?,?)")
      .bind(id, ms_of(g.grow.at), g.grow.note, g.grow.photo)
      .run();
  std::visit(GrowRows{db_, id}, g.grow.act);
  return id;
}

std::vector<GrowEntry> RecordFile::grow_entries() { return GrowReader(db_).read(); }

}  // namespace tubwarden
