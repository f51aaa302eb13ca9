// Answers about grain jars: from the filled jar to the one that is grown through, or thrown away.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "shell/warden/grow_asked.hpp"
#include "shell/warden/grow_views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// The ids of new jars: as given, or counted on.
std::vector<std::string> new_jars(Asked& asked) {
  if (asked.args.has("jars")) return jars_named(asked);
  const double count = asked.args.number("count").value_or(1.0);
  if (count >= 1.0 && count <= static_cast<double>(kJarsAtOnceMax) && count == std::floor(count)) {
    return asked.s.grow.book.next_jars(static_cast<std::size_t>(count));
  }
  asked.reply(Error{ErrorCode::bad_input,
                    fmt::format("{} jars: allowed are 1 to {}", trimmed(count), kJarsAtOnceMax)});
  return {};
}

/// What to do with a contaminated jar: the usual cautions (common practice, no source).
Json advice_for(const std::string& id) {
  return {
      fmt::format("Leave {} closed and take it out of the growing rooms now. Do not open it "
                  "indoors: its spores would reach every other jar.",
                  id),
      "Wear gloves and a dust mask if it leaks; who has asthma or weak lungs keeps away. Wipe the "
      "shelf and wash your hands.",
      "Get rid of it unopened: in a sealed bag, as your local waste rules say. Empty a jar that "
      "you "
      "want back outdoors, far from the grow, after one more sterilising run.",
      fmt::format("Then enter it: tubwarden jar discard {}", id)};
}

/// One act a jar of the request; `what` tells it of several: "J-1 to J-5 shaken".
template <class Make>
void keep_each(Asked& asked, Make make, const std::string& what) {
  std::vector<GrowAct> acts;
  const auto jars = jars_named(asked);
  for (const std::string& id : jars) acts.push_back(make(id));
  if (acts.empty()) return;
  keep_acts(asked, std::move(acts), jars.size() > 1 ? told_ids(jars) + what : "");
}

}  // namespace

void do_jar_add(Asked& asked) {
  JarsAdded act;
  act.jars = new_jars(asked);
  if (act.jars.empty()) return;
  act.batch = asked.args.text("batch");
  act.grain = asked.args.text("grain");
  act.run = asked.args.text("run");
  act.shelf = asked.args.text("shelf");
  act.fill_g = asked.args.number("fill_g");
  act.culture = asked.args.text("culture");
  act.dose_ml = asked.args.number("dose_ml").value_or(0.0);
  const std::string lid = asked.args.text("lid");
  if (!lid.empty() && lid != "vented" && lid != "closed") {
    return asked.reply(
        Error{ErrorCode::bad_input, fmt::format("'{}' is no lid; allowed: vented, closed", lid)});
  }
  act.vented = lid != "closed";
  if (act.culture.empty() && act.dose_ml != 0.0) {
    return asked.reply(
        Error{ErrorCode::bad_input, "a dose comes from a culture; name it, like --culture LC-2"});
  }
  keep_acts(asked, {act}, "", [&] { return Json{{"jars", act.jars}}; });
}

void do_jar_inoculate(Asked& asked) {
  const auto dose = number_named(asked, "dose_ml", "1");
  if (!dose) return;
  const auto jars = jars_named(asked);
  if (jars.empty()) return;
  keep_acts(asked, {JarsInoculated{jars, asked.args.text("culture"), *dose}});
}

void do_jar_look(Asked& asked) {
  const auto grown = number_named(asked, "grown_pct", "25");
  if (!grown) return;
  keep_each(
      asked,
      [&](const std::string& id) {
        return JarLookedAt{id, *grown};
      },
      fmt::format(": {} % grown through", trimmed(*grown, 0)));
}

void do_jar_shake(Asked& asked) {
  keep_each(
      asked, [](const std::string& id) { return JarShaken{id}; }, " shaken");
}

void do_jar_contaminated(Asked& asked) {
  const std::string id = asked.args.text("jar");
  const JarContaminated act{id, asked.args.text("seen")};
  keep_acts(asked, {act}, "", [&] {
    Json more = {{"jar", id}, {"advice", advice_for(id)}};
    if (const Jar* jar = asked.s.grow.book.jar(id)) {
      more["siblings"] = siblings_view(asked.s, *jar);
    }
    return more;
  });
}

void do_jar_discard(Asked& asked) {
  const std::string why = asked.args.text("why");
  keep_each(
      asked,
      [&](const std::string& id) {
        return JarDiscarded{id, why};
      },
      " discarded" + (why.empty() ? "" : ": " + why));
}

void do_jar_move(Asked& asked) {
  const auto jars = jars_named(asked);
  if (jars.empty()) return;
  keep_acts(asked, {JarsMoved{jars, asked.args.text("shelf")}});
}

void do_jars(Asked& asked) {
  const GrowBook& book = asked.s.grow.book;
  const std::string batch = asked.args.text("batch");
  const bool all = asked.args.yes("all");
  if (!batch.empty()) {
    const auto known = book.batches();
    if (std::find(known.begin(), known.end(), batch) == known.end()) {
      return asked.reply(unknown("batch with jars", batch, known));
    }
  }
  Json rows = Json::array();
  std::size_t left_out = 0;
  for (const Jar* each : jars_in_order(book)) {
    const Jar& jar = *each;
    if (!batch.empty() && jar.batch != batch) continue;
    if (batch.empty() && !all && !jar.stands()) {
      ++left_out;
      continue;
    }
    rows.push_back(jar_view(jar, asked.s.parts.clock.wall()));
  }
  asked.reply(Json{{"jars", rows}, {"left_out", left_out}}.dump());
}

void do_jar(Asked& asked) {
  const GrowBook& book = asked.s.grow.book;
  const std::string id = asked.args.text("jar");
  if (const Jar* jar = book.jar(id))
    return asked.reply(Json{{"jar", jar_view(*jar, asked.s.parts.clock.wall())}}.dump());
  asked.reply(Error{ErrorCode::not_found,
                    fmt::format("no jar is called '{}'; the jars there are: tubwarden jar list "
                                "--all",
                                id)});
}

}  // namespace tubwarden
