#include <cmath>

#include "base/text.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
using Json = nlohmann::ordered_json;

std::optional<std::string> told_time(const Stamp& stamp) {
  if (!stamp.wall_set) return std::nullopt;
  return rfc3339(stamp.wall);
}

void Warden::State::publish_awake() {
  if (!site) return;
  const Json body = {{"awake", true}, {"at", time_or_null(stamp())}};
  parts.broker.publish(base() + "awake", body.dump(), true);
}

void Warden::State::publish_air(Air& air) {
  const Instant moment = now();
  if (!is_up || (air.ever_published && moment < air.air_published + kAirPublishedEvery)) return;
  Json body;
  std::optional<Instant> newest;
  const auto views = air.chamber.air(moment);
  for (Quantity q : kAllQuantities) {
    const QuantityView& view = views[index_of(q)];
    if (!view.value || !view.usable) continue;
    body[std::string(member_of(q))] = rounded(*view.value, q);
    if (view.at_least) body[std::string(name_of(q)) + "_at_least"] = true;
    if (view.leaves_in) {
      body[std::string(name_of(q)) + "_leaves_in_s"] = std::round(seconds_of(*view.leaves_in));
    }
    newest = newest ? std::max(*newest, view.seen) : view.seen;
  }
  const auto derived = air.chamber.derived();
  for (Derived d : kAllDerived) {
    if (const auto value = derived[index_of(d)].value) {
      body[std::string(member_of(d))] = rounded(*value, d);
    }
  }
  body["age_s"] = newest ? Json(std::round(seconds_of(moment - *newest) * 10) / 10) : Json(nullptr);
  body["at"] = time_or_null(stamp());
  parts.broker.publish(base() + "chamber/" + air.chamber.plan().id + "/air", body.dump(), true);
  air.air_published = moment;
  air.ever_published = true;
  air.air_changed = false;
}

void Warden::State::publish_actuator(Air& air, std::size_t actuator) {
  if (!is_up) return;
  const ActuatorView view = air.chamber.actuators(now())[actuator];
  const Json body = {
      {"level_pct", view.level / 10.0}, {"at", time_or_null(stamp())}, {"why", view.why}};
  parts.broker.publish(base() + "chamber/" + air.chamber.plan().id + "/actuator/" + view.id,
                       body.dump(), true);
}

void Warden::State::publish_phase(const Tub& tub, const std::string& by) {
  if (!is_up || !tub.known) return;
  const Json body = {{"phase", tub.known->phase},
                     {"batch", tub.known->batch},
                     {"since", time_or_null(tub.known->since)},
                     {"elapsed_s", duration_cast<seconds>(elapsed(tub)).count()},
                     {"flush", flush_shown(tub) > 0 ? Json(flush_shown(tub)) : Json(nullptr)},
                     {"by", by},
                     {"at", time_or_null(stamp())}};
  parts.broker.publish(base() + "tub/" + tub.plan.id + "/phase", body.dump(), true);
}

void Warden::State::publish_alert(const AlertChange& change) {
  if (!site) return;
  const std::string topic =
      base() + "alert/" + change.alert.key.place + "." + change.alert.key.cause;
  if (!change.raised) {
    if (is_up) {
      parts.broker.publish(topic, "", true);
    } else {
      alert_topics_to_empty.insert(topic);
    }
    return;
  }
  alert_topics_to_empty.erase(topic);
  const DeskAlert* a = desk.find(change.alert.key);
  const Json body = {{"rank", name_of(change.alert.rank)},
                     {"state", name_of(a ? a->state() : AlertState::unseen)},
                     {"text", change.alert.text},
                     {"at", time_or_null(stamp())}};
  if (is_up) parts.broker.publish(topic, body.dump(), true);
}

/// All retained state anew, after the broker was away.
void Warden::State::publish_all() {
  publish_awake();
  for (const AlertKey& key : left_standing) {
    parts.broker.publish(base() + "alert/" + key.place + "." + key.cause, "", true);
  }
  left_standing.clear();
  for (auto& [id, air] : airs) {
    air->ever_published = false;
    publish_air(*air);
    publish_water(*air);
    for (std::size_t i = 0; i < air->chamber.plan().actuators.size(); ++i)
      publish_actuator(*air, i);
  }
  for (const auto& [id, tub] : tubs) publish_phase(tub, "record");
  for (const Alert& alert : standing()) publish_alert({alert, true});
  for (const std::string& topic : alert_topics_to_empty) parts.broker.publish(topic, "", true);
  alert_topics_to_empty.clear();
}

}  // namespace tubwarden
