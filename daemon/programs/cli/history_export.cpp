#include "programs/cli/history_export.hpp"

#include <fmt/format.h>

#include <array>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "base/text.hpp"

namespace tubwarden::cli {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kLineEnd = "\r\n";  // RFC 4180, section 2, rule 1

/// "humidity_low_pct" of "humidity_pct": the unit stays last.
std::string column(Quantity q, const char* which) {
  const std::string member(member_of(q));
  const auto unit = member.rfind('_');
  return member.substr(0, unit) + "_" + which + member.substr(unit);
}

std::string json_text(const Json& json) {
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace

std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string csv_header(bool by_width) {
  std::string line = "time,tub,batch,chamber,sensor";
  for (const Quantity q : kAllQuantities) {
    if (!by_width) {
      line += "," + std::string(member_of(q));
      continue;
    }
    for (const char* which : {"low", "mean", "high"}) line += "," + column(q, which);
  }
  return line + kLineEnd;
}

std::string csv_rows(const Stay& stay, const HistoryPiece& piece, bool by_width) {
  using Values = std::array<std::optional<HistoryValue>, kQuantities>;
  std::map<std::pair<WallTime, std::string>, Values> rows;
  for (const HistoryOf& of : piece.series) {
    for (const HistoryValue& v : of.values) rows[{v.at, of.sensor}][index_of(of.quantity)] = v;
  }
  const std::string of_stay =
      "," + csv_field(stay.tub) + "," + csv_field(stay.batch) + "," + csv_field(stay.chamber) + ",";
  std::string lines;
  for (const auto& [key, values] : rows) {
    lines += rfc3339(key.first) + of_stay + csv_field(key.second);
    for (const auto& value : values) {
      if (!by_width) {
        lines += "," + (value ? trimmed(value->mean) : std::string());
      } else if (!value) {
        lines += ",,,";
      } else {
        lines +=
            "," + trimmed(value->low) + "," + trimmed(value->mean) + "," + trimmed(value->high);
      }
    }
    lines += kLineEnd;
  }
  return lines;
}

struct HistoryJson::Impl {
  Json head;
  std::map<std::tuple<std::size_t, std::string, Quantity>, Json> values;
  Json runs = Json::array();
  RunsTold runs_told;
  std::map<std::string, std::pair<double, double>> missing;  ///< by chamber: unplaced, damaged
  std::vector<Stay> stays;
  std::size_t count = 0;
};

HistoryJson::HistoryJson(Stays stays, WallTime from, WallTime to, Duration every)
    : impl_(std::make_unique<Impl>()) {
  impl_->head = {{"of", stays.of},
                 {"kind", stays.kind},
                 {"from", rfc3339(from)},
                 {"to", rfc3339(to)},
                 {"every_s", seconds_of(every)},
                 {"untimed", static_cast<std::int64_t>(stays.untimed)},
                 {"stays", Json::array()}};
  for (const Stay& stay : stays.stays) {
    impl_->head["stays"].push_back({{"tub", stay.tub},
                                    {"chamber", stay.chamber},
                                    {"batch", stay.batch},
                                    {"from", rfc3339(stay.from)},
                                    {"to", rfc3339(stay.to)}});
  }
  impl_->stays = std::move(stays.stays);
}

HistoryJson::~HistoryJson() = default;

Outcome HistoryJson::take(std::size_t stay, const HistoryPiece& piece) {
  for (const HistoryOf& of : piece.series) {
    Json& values = impl_->values[{stay, of.sensor, of.quantity}];
    for (const HistoryValue& v : of.values) {
      values.push_back({{"at", rfc3339(v.at)},
                        {"low", v.low},
                        {"mean", v.mean},
                        {"high", v.high},
                        {"count", static_cast<std::int64_t>(v.count)}});
      ++impl_->count;
    }
  }
  for (const HistoryRun& run : piece.runs) {
    if (!impl_->runs_told.first(std::to_string(stay) + "/" + run.id, run.began)) continue;
    impl_->runs.push_back({{"stay", stay},
                           {"id", run.id},
                           {"level_pct", run.level_pct},
                           {"began", rfc3339(run.began)},
                           {"lasted_s", seconds_of(run.lasted)},
                           {"now", run.now}});
    ++impl_->count;
  }
  auto& [unplaced, damaged] = impl_->missing[impl_->stays.at(stay).chamber];
  unplaced = std::max(unplaced, piece.unplaced);
  damaged = std::max(damaged, piece.damaged);
  if (impl_->count <= kValuesMax) return Done{};
  return Error{ErrorCode::refused,
               fmt::format("that is more than {} values; name a longer --every, a shorter time, or "
                           "take it as --csv",
                           kValuesMax)};
}

std::string HistoryJson::told() const {
  Json all = impl_->head;
  all["series"] = Json::array();
  for (const auto& [key, values] : impl_->values) {
    const auto& [stay, sensor, quantity] = key;
    all["series"].push_back({{"stay", stay},
                             {"sensor", sensor},
                             {"quantity", name_of(quantity)},
                             {"unit", unit_of(quantity)},
                             {"values", values}});
  }
  all["runs"] = impl_->runs;
  all["missing"] = Json::array();
  for (const auto& [chamber, missing] : impl_->missing) {
    all["missing"].push_back({{"chamber", chamber},
                              {"unplaced", static_cast<std::int64_t>(missing.first)},
                              {"damaged", static_cast<std::int64_t>(missing.second)}});
  }
  return json_text(all);
}

}  // namespace tubwarden::cli
