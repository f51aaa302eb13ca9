// What a batch came to, and what stands on labels: the grow's book as JSON for the command line's
// report and labels.
#include <algorithm>
#include <set>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/grow_views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kLabelsAtOnceMax = 1000;
constexpr std::size_t kActsReportedMax = 5000;

bool jar_of_batch(const Jar& jar, const std::string& batch) {
  return jar.batch == batch || jar.into_batch == batch;
}

/// J-2 before J-10.
bool counted_before(const Jar* a, const Jar* b) {
  return std::pair(a->id.size(), a->id) < std::pair(b->id.size(), b->id);
}

/// Of this batch or mixed into it, or with `own` only of this batch.
std::vector<const Jar*> jars_of(const GrowBook& book, const std::string& batch, bool own) {
  std::vector<const Jar*> jars;
  for (const auto& [id, jar] : book.jars()) {
    if (own ? jar.batch == batch : jar_of_batch(jar, batch)) jars.push_back(&jar);
  }
  std::sort(jars.begin(), jars.end(), counted_before);
  return jars;
}

/// Notes, photos and what was taken back, by entry; the sentence stands in the time line.
Json acts_of_batch(const GrowBook& book) {
  Json acts = Json::array();
  for (std::size_t place = 0; place < book.entries().size(); ++place) {
    const GrowEntry& entry = book.entries()[place];
    if (entry.entry == 0) continue;
    acts.push_back({{"entry", entry.entry},
                    {"done", rfc3339(entry.at)},
                    {"note", entry.note},
                    {"photo", entry.photo},
                    {"undone", !book.stands(place)}});
  }
  if (acts.size() > kActsReportedMax) acts.erase(acts.begin(), acts.end() - kActsReportedMax);
  return acts;
}

Json grow_of_batch(const Warden::State& s, const std::string& batch) {
  const GrowBook& book = s.grow.book;
  Json jars = Json::array(), beds = Json::array(), cultures = Json::array();
  std::set<std::string> used;
  for (const Jar* jar : jars_of(book, batch, false)) {
    jars.push_back(jar_view(*jar, s.parts.clock.wall()));
    used.insert(jar->culture);
  }
  for (const auto& [key, bed] : book.beds()) {
    if (bed.batch != batch) continue;
    Json row = bed_view(bed);
    row["phases"] = Json::array();
    for (const PhaseSpan& span : bed.phases) {
      row["phases"].push_back(
          {{"phase", span.phase}, {"from", rfc3339(span.from)}, {"flush", span.flush}});
    }
    beds.push_back(std::move(row));
  }
  for (const auto& [id, culture] : book.cultures()) {
    if (used.contains(id)) cultures.push_back(culture_view(book, culture));
  }
  return {{"batch", batch},       {"site", s.site ? s.site->site : ""},
          {"beds", beds},         {"jars", jars},
          {"cultures", cultures}, {"acts", acts_of_batch(book)}};
}

Json label_of(const Jar& jar) {
  Json lines = Json::array();
  std::string first = jar.grain;
  if (!jar.culture.empty()) {
    first += (first.empty() ? "" : ", ") +
             (jar.dose_ml > 0.0 ? trimmed(jar.dose_ml) + " mL of " : std::string()) + jar.culture;
  }
  if (!first.empty()) lines.push_back(first);
  if (!jar.run.empty()) lines.push_back("sterilised " + jar.run);
  return {{"id", jar.id},
          {"batch", jar.batch},
          {"at", rfc3339(jar.inoculated.value_or(jar.added))},
          {"lines", lines}};
}

Json label_of(const Bed& bed) {
  Json lines = Json::array();
  if (bed.substrate_kg > 0.0) {
    lines.push_back(trimmed(bed.substrate_kg) + " kg" + (bed.mix.empty() ? "" : " of " + bed.mix));
  }
  if (!bed.jars.empty()) lines.push_back("from " + told_ids(bed.jars));
  return {{"id", bed.tub}, {"batch", bed.batch}, {"at", time_of(bed.spawned)}, {"lines", lines}};
}

Json label_of(const Culture& culture) {
  Json lines = Json::array();
  for (const std::string& line : {culture.strain, culture.source}) {
    if (!line.empty()) lines.push_back(line);
  }
  return {{"id", culture.id}, {"batch", ""}, {"at", rfc3339(culture.received)}, {"lines", lines}};
}

/// The labels that one name means: a jar, a culture, a tub, or all jars and tubs of a batch.
std::vector<Json> labels_named(const Warden::State& s, const std::string& name) {
  const GrowBook& book = s.grow.book;
  if (const Jar* jar = book.jar(name)) return {label_of(*jar)};
  if (const auto of = book.cultures().find(name); of != book.cultures().end()) {
    return {label_of(of->second)};
  }
  std::vector<Json> labels;
  const Bed* newest = nullptr;
  for (const auto& [key, bed] : book.beds()) {
    if (bed.tub == name && (!newest || bed.spawned > newest->spawned)) newest = &bed;
  }
  if (newest) return {label_of(*newest)};
  for (const Jar* jar : jars_of(book, name, true)) labels.push_back(label_of(*jar));
  for (const auto& [key, bed] : book.beds()) {
    if (bed.batch == name) labels.push_back(label_of(bed));
  }
  if (labels.empty()) {
    if (const auto tub = s.tubs.find(name); tub != s.tubs.end()) {
      labels.push_back({{"id", name},
                        {"batch", tub->second.plan.batch},
                        {"at", nullptr},
                        {"lines", Json::array()}});
    }
  }
  return labels;
}

}  // namespace

void do_report(Asked& asked) {
  const std::string batch = asked.args.text("batch");
  Warden::State& s = asked.s;
  s.parts.record.profile_of(
      batch, [&s, batch, reply = std::move(asked.reply)](Result<ProfileEdited> profile) {
        const auto known = s.grow.book.batches();
        if (!profile.ok() && std::find(known.begin(), known.end(), batch) == known.end()) {
          return reply(profile.error());
        }
        Json all = grow_of_batch(s, batch);
        all["profile"] = profile.ok() ? profile->profile : "";
        all["profile_text"] = profile.ok() ? profile->profile_text : "";
        reply(all.dump(-1, ' ', false, Json::error_handler_t::replace));
      });
}

void do_labels(Asked& asked) {
  Json labels = Json::array();
  for (const std::string& name : asked.args.texts("names")) {
    const auto named = labels_named(asked.s, name);
    if (named.empty()) {
      return asked.reply(Error{ErrorCode::not_found,
                               "'" + name +
                                   "' is no jar, tub, culture or batch of the record; there are: "
                                   "tubwarden jar list --all, tubwarden batch list"});
    }
    for (const Json& label : named) labels.push_back(label);
  }
  if (labels.size() > kLabelsAtOnceMax) {
    return asked.reply(Error{ErrorCode::refused,
                             "that is more than 1000 labels; name a batch at a time, or its jars"});
  }
  asked.reply(Json{{"labels", labels}}.dump(-1, ' ', false, Json::error_handler_t::replace));
}

}  // namespace tubwarden
