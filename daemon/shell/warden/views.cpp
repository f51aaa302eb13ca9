#include "shell/warden/views.hpp"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/text.hpp"
#include "core/climate/flush.hpp"

namespace tubwarden {

using Json = nlohmann::ordered_json;

Json time_or_null(const Stamp& stamp) {
  const auto told = told_time(stamp);
  return told ? Json(*told) : Json(nullptr);
}

double rounded(double value, Quantity q) {
  const double steps = q == Quantity::co2 ? 1.0 : 100.0;
  return std::round(value * steps) / steps;
}

double rounded(double value, Derived d) {
  const double steps = d == Derived::bed_drying ? 1000.0 : 100.0;
  return std::round(value * steps) / steps;
}

namespace {

double tenths(Duration d) { return std::round(seconds_of(d) * 10.0) / 10.0; }

Json quantity_view(Quantity q, const QuantityView& view, Instant now) {
  Json j = {{"quantity", name_of(q)}, {"word", word_of(q)}, {"unit", unit_of(q)}};
  j["value"] = view.value ? Json(*view.value) : Json(nullptr);
  j["age_s"] = view.value ? Json(tenths(now - view.seen)) : Json(nullptr);
  j["usable"] = view.usable;
  j["at_least"] = view.at_least;
  j["keep"] = view.keep ? Json::array({view.keep->low, view.keep->high}) : Json(nullptr);
  const auto limit = [](const std::optional<double>& v) { return v ? Json(*v) : Json(nullptr); };
  j["warn"] = view.warn_below || view.warn_above
                  ? Json::array({limit(view.warn_below), limit(view.warn_above)})
                  : Json(nullptr);
  j["leaves_in_s"] = view.leaves_in ? Json(tenths(*view.leaves_in)) : Json(nullptr);
  j["leaves_over"] = view.leaves_in ? Json(view.leaves_up ? "high" : "low") : Json(nullptr);
  return j;
}

Json derived_view(Derived d, const DerivedView& view) {
  const auto given = [](const std::optional<double>& v) { return v ? Json(*v) : Json(nullptr); };
  Json j = {{"quantity", name_of(d)}, {"word", word_of(d)}, {"unit", unit_of(d)}};
  j["value"] = view.value ? Json(rounded(*view.value, d)) : Json(nullptr);
  j["keep"] = view.keep ? Json::array({view.keep->low, view.keep->high}) : Json(nullptr);
  j["warn"] = view.warn_below || view.warn_above
                  ? Json::array({given(view.warn_below), given(view.warn_above)})
                  : Json(nullptr);
  return j;
}

Json sensor_view(const SensorView& view) {
  Json ignored = Json::array();
  for (const IgnoredView& i : view.ignored) {
    ignored.push_back({{"quantity", name_of(i.quantity)}, {"why", i.text}});
  }
  return {{"id", view.id},
          {"interval_s", view.interval ? Json(tenths(*view.interval)) : Json(nullptr)},
          {"spikes", view.spikes},
          {"ignored", std::move(ignored)}};
}

Json falls_by_itself(const OutputPlan& plan) {
  if (!plan.network) return nullptr;
  return plan.falls_by_itself_after ? Json(spoken(*plan.falls_by_itself_after)) : Json("never");
}

Json actuator_view(const ActuatorView& view, const ActuatorPlan& plan, const HostView* host,
                   Instant now) {
  Json j = {{"id", view.id},
            {"effect", name_of(view.effect)},
            {"level_pct", view.level / 10.0},
            {"since_s", tenths(now - view.since)},
            {"starts_last_hour", view.starts_last_hour},
            {"falls_by_itself", falls_by_itself(plan.output)},
            {"why", view.why}};
  if (host) {
    j["health"] = name_of(host->health);
    j["lease_left_s"] = tenths(host->lease_left);
    j["host_pid"] = host->pid;
    j["restarts"] = host->restarts;
  } else {
    j["health"] = "starting";
  }
  return j;
}

Json hand_view(const Hand& hand, Instant now) {
  return {{"kind", name_of(hand.kind)},
          {"tub", hand.tub},
          {"actuator", hand.actuator},
          {"level_pct", hand.level / 10.0},
          {"left_s", tenths(hand.until - now)}};
}

/// What file and record say differently.
std::string differences(const Tub& tub) {
  std::string told;
  if (tub.known && tub.known->phase != tub.plan.phase) {
    told = "file says " + tub.plan.phase + ", record says " + tub.known->phase;
  }
  if (tub.plan.chamber != tub.file_place) {
    told += (told.empty() ? "" : "; ") + std::string("file says it stands in ") +
            place_words(tub.plan.id, tub.file_place) + ", record says " +
            place_words(tub.plan.id, tub.plan.chamber);
  }
  return told;
}

}  // namespace

std::vector<std::string> phases_of(const Tub& tub) {
  std::vector<std::string> known;
  if (!tub.plan.profile) return known;
  for (const PhasePlan& p : tub.plan.profile->phases) {
    if (!tub.plan.is_shelf || p.name == kPhaseGrain || p.name == kPhaseEmpty) {
      known.push_back(p.name);
    }
  }
  return known;
}

namespace {

Json tub_view(const Warden::State& s, const Tub& tub) {
  Json j = {{"id", tub.plan.id}, {"chamber", tub.plan.chamber}, {"batch", tub.plan.batch}};
  j["profile"] = tub.plan.profile ? tub.plan.profile->name : "";
  j["phase"] = tub.known ? tub.known->phase : "";
  const auto lasted = duration_cast<seconds>(s.elapsed(tub)).count();
  j["day"] = tub.known ? Json(lasted / 86400 + 1) : Json(nullptr);
  const int flush = s.flush_shown(tub);
  j["flush"] = flush > 0 ? Json(flush) : Json(nullptr);
  j["loop"] = flush > 0 ? Json(loop_of(*tub.plan.profile, tub.known->phase)) : Json(nullptr);
  const PhasePlan* plan = tub.known && tub.plan.profile && tub.known->batch == tub.plan.batch
                              ? tub.plan.profile->find(tub.known->phase)
                              : nullptr;
  j["next"] = plan && !plan->next.empty() ? Json(plan->next) : Json(nullptr);
  j["elapsed_s"] = tub.known ? Json(lasted) : Json(nullptr);
  j["phases"] = phases_of(tub);
  j["file_phase"] = tub.plan.phase;
  j["file_chamber"] = tub.file_place;
  j["note"] = differences(tub);
  return j;
}

const HostView* host_of(const std::vector<HostView>& hosts, const OutputId& id) {
  for (const HostView& host : hosts) {
    if (host.id == id) return &host;
  }
  return nullptr;
}

}  // namespace

Json chambers_view(const Warden::State& s) {
  const Instant now = s.now();
  const std::vector<HostView> hosts = s.parts.drivers.hosts();
  Json list = Json::array();
  for (const auto& [id, air] : s.airs) {
    Json j = {{"id", id},
              {"phase", air->chamber.phase()},
              {"leader", air->chamber.plan().leader},
              {"air", Json::array()},
              {"derived", Json::array()},
              {"sensors", Json::array()},
              {"actuators", Json::array()},
              {"hands", Json::array()}};
    for (const Hand& hand : air->chamber.hands()) j["hands"].push_back(hand_view(hand, now));
    const auto views = air->chamber.air(now);
    for (Quantity q : kAllQuantities) {
      const QuantityView& view = views[index_of(q)];
      if (view.value || view.keep) j["air"].push_back(quantity_view(q, view, now));
    }
    const auto derived = air->chamber.derived();
    for (Derived d : kAllDerived) {
      const DerivedView& view = derived[index_of(d)];
      if (view.value || view.keep) j["derived"].push_back(derived_view(d, view));
    }
    for (const SensorView& sensor : air->chamber.sensors(now)) {
      j["sensors"].push_back(sensor_view(sensor));
    }
    const auto actuators = air->chamber.actuators(now);
    for (std::size_t i = 0; i < actuators.size(); ++i) {
      const ActuatorPlan& plan = air->chamber.plan().actuators[i];
      j["actuators"].push_back(
          actuator_view(actuators[i], plan, host_of(hosts, plan.output.id), now));
    }
    j["water"] = water_view(air->chamber);
    const SurfacesView surfaces = air->chamber.surfaces(now);
    const auto lasts = [](const std::optional<Duration>& d) {
      return d ? Json(tenths(*d)) : Json(nullptr);
    };
    j["surfaces"] = {{"dew_on_bed", surfaces.dew_on_bed},
                     {"dew_on_lid", surfaces.dew_on_lid},
                     {"wet_for_s", lasts(surfaces.wet_for)},
                     {"dries_for_s", lasts(surfaces.dries_for)}};
    list.push_back(std::move(j));
  }
  return list;
}

/// One a process (and one an output that has none now): who holds it, for how long yet, and what
/// the kernel holds it to.
Json hosts_view(const Warden::State& s) {
  Json list = Json::array();
  std::map<int, std::size_t> seen;
  for (const HostView& host : s.parts.drivers.hosts()) {
    const std::string output = host.id.chamber + "/" + host.id.actuator;
    const auto found = host.pid == 0 ? seen.end() : seen.find(host.pid);
    if (found != seen.end()) {
      Json& known = list[found->second];
      known["outputs"].push_back(output);
      known["lease_left_s"] =
          std::max(known["lease_left_s"].get<double>(), tenths(host.lease_left));
      continue;
    }
    if (host.pid != 0) seen[host.pid] = list.size();
    Json limits = Json::array();
    for (const HostLimit& limit : host.limits) {
      limits.push_back({{"what", limit.what}, {"holds", limit.holds}, {"how", limit.how}});
    }
    list.push_back({{"plugin", host.plugin},
                    {"pid", host.pid},
                    {"restarts", host.restarts},
                    {"lease_left_s", tenths(host.lease_left)},
                    {"outputs", Json::array({output})},
                    {"limits", limits}});
  }
  return list;
}

Json status_view(const Warden::State& s) {
  const Stamp at = s.stamp();
  const BrokerCounters broker = s.parts.broker.counters();
  const RecordCounters record = s.parts.record.counters();
  Json j = {
      {"site", s.site ? s.site->site : ""}, {"at", time_or_null(at)}, {"clock_set", at.wall_set}};
  j["broker"] = {{"up", s.is_up},
                 {"url", s.site ? s.site->broker.url : ""},
                 {"since_s", tenths(s.now() - s.broker_since)},
                 {"received", s.messages_taken},
                 {"refused", s.messages_refused},
                 {"dropped", broker.dropped},
                 {"readings", s.values_taken},
                 {"unsent", broker.unsent}};
  for (std::size_t i = 0; i < kRefusals; ++i) {
    const auto reason = static_cast<Refusal>(i);
    if (const auto n = s.refusals.of(reason)) j["broker"]["refused_for"][name_of(reason)] = n;
  }
  j["record"] = {{"folder", s.site ? s.site->record_folder : ""},
                 {"entries", record.entries},
                 {"readings", record.readings},
                 {"readings_dropped", record.readings_dropped},
                 {"failures", record.failures}};
  j["log"] = {{"lost", s.parts.log_lost()}};
  const SocketCounters socket = s.parts.socket();
  j["control"] = {{"clients", socket.clients},     {"requests", socket.requests},
                  {"malformed", socket.malformed}, {"too_long", socket.too_long},
                  {"too_many", socket.too_many},   {"cut_off", socket.cut_off}};
  j["sheet"] = Json::object();
  for (const auto& [name, count] : s.parts.sheet()) j["sheet"][name] = count;
  Json told = Json::array();
  bool errors = false;
  for (const Finding& f : s.findings) {
    told.push_back(f.told());
    errors = errors || f.severity == Severity::error;
  }
  j["config"] = {{"folder", s.folder},
                 {"state", s.source == ConfigSource::last_good ? "last good copy"
                           : errors                            ? "partly refused"
                                                               : "as read"},
                 {"findings", told}};
  j["chambers"] = chambers_view(s);
  j["hosts"] = hosts_view(s);
  j["tubs"] = Json::array();
  for (const auto& [id, tub] : s.tubs) j["tubs"].push_back(tub_view(s, tub));
  j["alerts"] = alerts_view(s, true);
  j["off"] = off_view(s);
  return j;
}

Json why_view(const Air& air, const std::string& actuator, Instant now) {
  Json j = {{"chamber", air.chamber.plan().id}, {"lines", Json::array()}};
  for (const ActuatorView& view : air.chamber.actuators(now)) {
    if (!actuator.empty() && view.id != actuator) continue;
    j["lines"].push_back({{"id", view.id}, {"why", view.why}});
  }
  return j;
}

Json outputs_view(const Warden::State& s) {
  Json list = Json::array();
  const std::vector<HostView> hosts = s.parts.drivers.hosts();
  for (const auto& [id, air] : s.airs) {
    const auto views = air->chamber.actuators(s.now());
    for (std::size_t i = 0; i < views.size(); ++i) {
      const OutputPlan& plan = air->chamber.plan().actuators[i].output;
      const RunLimits& limits = air->chamber.plan().actuators[i].limits;
      const HostView* host = host_of(hosts, plan.id);
      list.push_back({{"chamber", id},
                      {"id", views[i].id},
                      {"plugin", plan.driver},
                      {"effect", name_of(views[i].effect)},
                      {"wiring", Json::parse(plan.wiring_json, nullptr, false)},
                      {"safe_pct", plan.safe / 10.0},
                      {"lease_s", tenths(plan.lease)},
                      {"shortest_run_s", tenths(limits.shortest_run)},
                      {"longest_run_s", tenths(limits.longest_run)},
                      {"health", host ? name_of(host->health) : "starting"},
                      {"pid", host ? host->pid : 0},
                      {"restarts", host ? host->restarts : 0},
                      {"lease_left_s", host ? tenths(host->lease_left) : 0.0},
                      {"falls_by_itself", falls_by_itself(plan)},
                      {"level_pct", views[i].level / 10.0}});
    }
  }
  return {{"outputs", list}, {"daemon_pid", ::getpid()}};
}

Json timeline_view(const std::vector<TimelineRow>& rows) {
  Json list = Json::array();
  for (const TimelineRow& row : rows) {
    list.push_back({{"id", row.id},
                    {"at", rfc3339(row.stamp.wall)},
                    {"clock_set", row.stamp.wall_set},
                    {"who", row.who},
                    {"kind", row.kind},
                    {"tub", row.tub},
                    {"chamber", row.chamber},
                    {"batch", row.batch},
                    {"text", row.text},
                    {"mended", row.mended},
                    {"corrects", row.corrects ? Json(*row.corrects) : Json(nullptr)}});
    // Said only where it was entered later.
    const bool later = row.done && *row.done + minutes(1) < row.stamp.wall;
    list.back()["done"] =
        later || (row.done && !row.stamp.wall_set) ? Json(rfc3339(*row.done)) : Json(nullptr);
    list.back()["photo"] = row.photo.empty() ? Json(nullptr) : Json(row.photo);
  }
  return list;
}

}  // namespace tubwarden
