// The water books: kept in the record, given back after a start, shown and published.

#include <cmath>
#include <nlohmann/json.hpp>

#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::pair<const char*, double WaterSums::*> kSums[] = {
    {"covered_s", &WaterSums::covered_s}, {"uncovered_s", &WaterSums::uncovered_s},
    {"fan_g", &WaterSums::fan_g},         {"leak_g", &WaterSums::leak_g},
    {"mist_g", &WaterSums::mist_g},       {"dried_g", &WaterSums::dried_g},
    {"per_pct_g", &WaterSums::per_pct_g}};

Json written(const WaterSums& sums) {
  Json j = Json::object();
  for (const auto& [name, sum] : kSums) j[name] = sums.*sum;
  return j;
}

/// 0 where it is missing, no number or not finite.
double figure(const Json& j, const char* name) {
  const auto it = j.find(name);
  if (it == j.end() || !it->is_number()) return 0.0;
  const double value = it->get<double>();
  return std::isfinite(value) ? value : 0.0;
}

WaterSums sums_in(const Json& j) {
  WaterSums sums;
  for (const auto& [name, sum] : kSums) sums.*sum = figure(j, name);
  return sums;
}

BookHours hours_in(const Json& j) {
  BookHours hours{};
  for (std::size_t i = 0; j.is_array() && i < std::min(j.size(), hours.size()); ++i) {
    if (j[i].is_number()) hours[i] = std::clamp(j[i].get<double>(), 0.0, 1e5);
  }
  return hours;
}

std::string text_in(const Json& j, const char* name) {
  const auto it = j.find(name);
  return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}

std::string written(const WaterBookState& book) {
  Json j = {{"sums", written(book.sums)}, {"known_s", book.known}, {"hour_s", book.hour_s}};
  j["marks"] = Json::array();
  for (const WaterMark& m : book.marks) {
    j["marks"].push_back({{"tub", m.tub}, {"given_ml", m.given_ml}, {"at", written(m.at)}});
  }
  j["outputs"] = Json::array();
  for (const OutputTime& o : book.outputs) {
    Json out = {{"id", o.id}, {"run_s", o.run_s}, {"hours", o.hours}};
    if (o.refilled_at_s) out["refilled_at_s"] = *o.refilled_at_s;
    j["outputs"].push_back(std::move(out));
  }
  return j.dump();
}

/// What is not as it was written counts as nothing; a text that is no JSON is no book.
std::shared_ptr<const WaterBookState> book_in(const std::string& text) {
  const Json j = Json::parse(text, nullptr, false);
  if (!j.is_object()) return nullptr;
  auto book = std::make_shared<WaterBookState>();
  book->sums = sums_in(j.value("sums", Json::object()));
  book->known = hours_in(j.value("known_s", Json::array()));
  book->hour_s = std::clamp(figure(j, "hour_s"), 0.0, 3600.0);
  for (const Json& m : j.value("marks", Json::array())) {
    if (!m.is_object()) continue;
    book->marks.push_back(
        {text_in(m, "tub"), sums_in(m.value("at", Json::object())), figure(m, "given_ml")});
  }
  for (const Json& o : j.value("outputs", Json::array())) {
    if (!o.is_object()) continue;
    OutputTime time{text_in(o, "id"), figure(o, "run_s"), hours_in(o.value("hours", Json())), {}};
    if (o.contains("refilled_at_s")) time.refilled_at_s = figure(o, "refilled_at_s");
    book->outputs.push_back(std::move(time));
  }
  return book;
}

double round_to(double value, double step) { return std::round(value / step) * step; }

Json casing_view(const CasingView& casing, const WaterView& view) {
  const WaterAccount& a = casing.account;
  const bool known = view.missing.empty() && a.covered > Duration{0};
  const auto grams = [&](double g) { return known ? Json(round_to(g, 0.1)) : Json(nullptr); };
  return {{"tub", casing.tub},
          {"given_ml", round_to(casing.given_ml, 0.1)},
          {"since_s", std::round(seconds_of(a.since))},
          {"covered_s", std::round(seconds_of(a.covered))},
          {"gave_up_g", grams(a.gave_g)},
          {"error_g", grams(a.doubt_g)},
          {"fan_g", grams(a.fan_g)},
          {"leak_g", grams(a.leak_g)},
          {"mist_g", grams(a.mist_g)},
          {"dried_g", grams(a.dried_g)},
          {"text", told(casing, view)}};
}

}  // namespace

Json water_view(const Chamber& chamber) {
  const WaterView view = chamber.water();
  Json j = {{"missing", view.missing}, {"leak_assumed", view.leak_assumed}};
  j["casings"] = Json::array();
  for (const CasingView& casing : view.casings) j["casings"].push_back(casing_view(casing, view));
  j["tanks"] = Json::array();
  for (const TankView& tank : view.tanks) {
    Json t = {{"id", tank.actuator}, {"holds_ml", tank.holds_ml}};
    t["left_ml"] = tank.left_ml ? Json(std::round(*tank.left_ml)) : Json(nullptr);
    t["left_h"] =
        tank.lasts ? Json(round_to(seconds_of(*tank.lasts) / 3600.0, 0.1)) : Json(nullptr);
    t["text"] = told(tank);
    j["tanks"].push_back(std::move(t));
  }
  j["day"] = {{"seen_s", std::round(seconds_of(view.day_seen))},
              {"mist_g", round_to(view.day_mist_g, 0.1)},
              {"energy_wh", round_to(view.day_energy_wh, 0.1)},
              {"unmetered", view.unmetered},
              {"text", told_day(view)}};
  return j;
}

void Warden::remember_books(std::vector<BookRow> books) { state_->books = std::move(books); }

void Warden::State::keep_book(Air& air) {
  const std::string& id = air.chamber.plan().id;
  BookRow row{id, written(air.chamber.book()), stamp()};
  std::erase_if(books, [&](const BookRow& old) { return old.chamber == id; });
  books.push_back(row);
  parts.record.book(std::move(row));
  publish_water(air);
}

void Warden::State::give_book(Air& air) {
  for (const BookRow& row : std::vector<BookRow>(books)) {
    if (row.chamber != air.chamber.plan().id) continue;
    if (auto book = book_in(row.text)) {
      step(air, event::BookKnown{std::move(book), elapsed_at(row.at, Duration{0}, stamp())});
    }
  }
}

void Warden::State::publish_water(const Air& air) {
  if (!is_up || !site) return;
  const Json view = water_view(air.chamber);
  for (const Json& casing : view["casings"]) {
    Json body = casing;
    body.erase("tub");
    for (const Json& tank : view["tanks"]) {
      if (tank["left_ml"].is_null()) continue;
      if (body.contains("tank_ml") && body["tank_ml"] <= tank["left_ml"]) continue;
      body["tank_ml"] = tank["left_ml"];
      body["tank_h"] = tank["left_h"];
    }
    body["day_mist_g"] = view["day"]["mist_g"];
    body["day_energy_wh"] = view["day"]["energy_wh"];
    body["at"] = time_or_null(stamp());
    parts.broker.publish(base() + "tub/" + casing["tub"].get<std::string>() + "/water", body.dump(),
                         true);
  }
}

}  // namespace tubwarden
