// The climate that each phase of a batch kept, for `batch climate`, reports and the sheet.
#include "shell/warden/asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

Json kept_quantity(Quantity q, const QuantityKept& of) {
  const auto known = [&](double value) {
    return of.live_s > 0.0 ? Json(rounded(value, q)) : Json(nullptr);
  };
  return {{"quantity", name_of(q)}, {"word", word_of(q)},       {"unit", unit_of(q)},
          {"live_s", of.live_s},    {"banded_s", of.banded_s},  {"inside_s", of.inside_s},
          {"mean", known(of.mean)}, {"least", known(of.least)}, {"most", known(of.most)},
          {"at_least", of.at_least}};
}

Json kept_row(const KeptRow& row) {
  Json j = {{"tub", row.phase.tub}, {"phase", row.phase.phase}};
  j["flush"] = row.phase.flush > 0 ? Json(row.phase.flush) : Json(nullptr);
  j["from"] = time_or_null(row.from);
  j["to"] = row.to ? time_or_null(*row.to) : Json(nullptr);
  j["lasts"] = !row.to;
  j["lasted_s"] = duration_cast<seconds>(row.phase.lasted).count();
  j["quantities"] = Json::array();
  for (Quantity q : kAllQuantities) {
    const QuantityKept& of = row.phase.kept.of(q);
    if (of.live_s > 0.0) j["quantities"].push_back(kept_quantity(q, of));
  }
  j["outputs"] = Json::array();
  for (const OutputKept& of : row.phase.kept.outputs) {
    j["outputs"].push_back({{"id", of.id}, {"run_s", of.run_s}});
  }
  j["alerts"] = Json::array();
  for (const KeptRow::Raised& of : row.alerts) {
    j["alerts"].push_back({{"cause", of.cause}, {"times", of.times}});
  }
  j["watered_ml"] = row.watered_ml;
  return j;
}

}  // namespace

void do_kept(Asked& asked) {
  const std::string batch = asked.args.text("batch");
  asked.s.parts.record.climate_kept(batch, [batch, reply = std::move(asked.reply)](auto rows) {
    if (!rows.ok()) return reply(rows.error());
    if (rows->empty()) {
      return reply(Error{ErrorCode::not_found,
                         "no climate is kept of a batch '" + batch +
                             "' yet; `tubwarden batch list` names the batches, and a phase's "
                             "climate is there ten minutes after it began"});
    }
    Json list = Json::array();
    for (const KeptRow& row : *rows) list.push_back(kept_row(row));
    reply(Json{{"batch", batch}, {"rows", list}}.dump());
  });
}

}  // namespace tubwarden
