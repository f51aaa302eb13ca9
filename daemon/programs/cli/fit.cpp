#include "programs/cli/fit.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "programs/cli/rehearse.hpp"
#include "rehearsal/beds.hpp"
#include "rehearsal/grow.hpp"

namespace tubwarden::cli {
namespace {

/// Where in a flush a tub in fruiting is taken to stand: what it breathes is found anyway.
constexpr Duration kInFlush = hours(4 * 24);

/// The daemon where one answers, else the record of the folder.
Result<ReadAir> source_of(const Loaded& loaded, const AskDaemon& ask) {
  const auto alive = ask("status", "{}");
  if (alive.ok()) return air_by_daemon(ask);
  if (alive.error().code != ErrorCode::unavailable) return alive.error();
  auto record = air_by_record(loaded.site->record_folder);
  if (record.ok()) return record;
  return Error{record.error().code,
               fmt::format("{}; and {}", alive.error().text, record.error().text)};
}

double median_of(const rehearsal::TubHistory& history, Quantity q, double otherwise) {
  std::vector<double> values;
  for (const auto& r : history.readings) {
    if (r.quantity == q) values.push_back(r.value);
  }
  if (values.empty()) return otherwise;
  const auto half = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), half, values.end());
  return *half;
}

/// The middle of the times between readings of humidity.
double reading_each_s(const rehearsal::TubHistory& history) {
  double last = -1.0;
  std::vector<double> gaps;
  for (const auto& r : history.readings) {
    if (r.quantity != Quantity::humidity) continue;
    if (last >= 0.0) gaps.push_back(r.at_s - last);
    last = r.at_s;
  }
  if (gaps.empty()) return 10.0;
  const auto half = gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2);
  std::nth_element(gaps.begin(), half, gaps.end());
  return *half;
}

class Fitting {
 public:
  Fitting(const GrowPlan& grow, const Rehearse& wanted, ReadAir read, Zone zone)
      : grow_(grow), wanted_(wanted), read_(std::move(read)), zone_(zone) {}

  Result<FittedAir> fit(const ChamberPlan& chamber) const {
    const TubPlan* leader = grow_.tub(chamber.leader);
    if (leader == nullptr || !leader->profile) {
      return Error{ErrorCode::refused, "no tub leads it, so what stands in it is not known"};
    }
    FittedAir air;
    air.chamber = chamber;
    const bool named = !wanted_.from.empty() && leader->profile->find(wanted_.from) != nullptr;
    air.phase = named ? wanted_.from : leader->phase;
    const double litres = chamber.net_volume.in(air.phase);
    if (litres <= 0.0) {
      return Error{ErrorCode::refused,
                   fmt::format("its net_volume says nothing for the phase {}", air.phase)};
    }
    const auto heard = read_history(read_, chamber, wanted_.until - span(), wanted_.until, zone_);
    if (!heard.ok()) return heard.error();
    const rehearsal::TubHistory& history = heard->history;
    air.from = heard->begin;
    air.to = air.from + duration_cast<milliseconds>(from_seconds(history.length_s));
    auto found = rehearsal::fit_tub(order(chamber, air.phase, litres), history);
    if (!found.ok()) return found.error();
    air.fit = std::move(found).value();
    air.advice = rehearsal::advise(
        air.fit, {chamber, leader->profile->find(air.phase),
                  median_of(history, Quantity::air_temperature, 18.0),
                  median_of(history, Quantity::humidity, 87.0), reading_each_s(history)});
    return air;
  }

 private:
  milliseconds span() const { return duration_cast<milliseconds>(wanted_.history); }

  rehearsal::FitOrder order(const ChamberPlan& chamber, const std::string& phase,
                            double litres) const {
    rehearsal::FitOrder order;
    order.chamber = chamber;
    order.usual = rehearsal::parameters_of(rehearsal::Load::empty, litres);
    order.room = rehearsal::room_day_of(grow_.room);
    order.room_told = grow_.room.temperature.fixed && grow_.room.humidity.fixed;
    order.heats_substrate = rehearsal::mat_in(chamber);
    for (const TubPlan& tub : grow_.tubs) {
      if (tub.chamber != chamber.id) continue;
      const std::string& own = tub.id == chamber.leader ? phase : tub.phase;
      rehearsal::add_crop(order.usual.crop, rehearsal::crop_in(tub, own, kInFlush));
    }
    return order;
  }

  const GrowPlan& grow_;
  const Rehearse& wanted_;
  ReadAir read_;
  Zone zone_;
};

}  // namespace

Result<FittedFolder> fit_folder(const Rehearse& wanted, const AskDaemon& ask, Zone zone,
                                const std::function<void(const std::string& air)>& told,
                                std::vector<std::string>& problems) {
  const auto loaded = whole_folder(wanted, problems);
  if (!loaded) return loaded.error();
  auto read = source_of(*loaded, ask);
  if (!read) return read.error();
  const Fitting fitting(loaded->grow, wanted, std::move(read).value(), zone);
  FittedFolder folder;
  folder.site = loaded->site->site;
  for (const ChamberPlan& chamber : loaded->grow.chambers) {
    told(chamber.id);
    auto air = fitting.fit(chamber);
    if (air.ok()) {
      folder.airs.push_back(std::move(air).value());
    } else {
      folder.not_fitted.push_back(chamber.id + ": " + air.error().text);
    }
  }
  if (!folder.airs.empty()) return folder;
  std::string text = "nothing could be fitted";
  for (const std::string& why : folder.not_fitted) text += "\n" + why;
  return Error{ErrorCode::refused, text};
}

}  // namespace tubwarden::cli
