#include "programs/tubwardend/dry_ports.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/text.hpp"

namespace tubwarden {
namespace {

std::string name_of_output(const OutputId& id) { return id.chamber + "/" + id.actuator; }

/// What is behind "running for 3s: " and the like, without its full stop.
std::string reason_in(const std::string& why) {
  const std::size_t colon = why.find(": ");
  std::string reason = colon == std::string::npos ? why : why.substr(colon + 2);
  while (reason.ends_with('.')) reason.pop_back();
  return reason;
}

}  // namespace

std::string would_do(const OutputId& id, Level level, Duration run, const std::string& why) {
  std::string line =
      fmt::format("would {} {}", level == kRest ? "rest" : "run", name_of_output(id));
  if (level != kRest && level != kRun) line += fmt::format(" at {} %", trimmed(level / 10.0, 1));
  if (level != kRest && run > Duration{0}) line += fmt::format(" for at most {}", spoken(run));
  const std::string reason = reason_in(why);
  return reason.empty() ? line : line + ": " + reason;
}

void DryDrivers::start(std::function<void(const OutputReport&)> report) {
  report_ = std::move(report);
}

void DryDrivers::want(std::vector<OutputPlan> outputs) {
  std::map<OutputId, OutputPlan> next;
  for (OutputPlan& plan : outputs) {
    const auto old = outputs_.find(plan.id);
    const bool same = old != outputs_.end() && old->second == plan;
    if (!same) {
      levels_.erase(plan.id);
      hooks_.post([this, id = plan.id] {
        if (report_ && outputs_.contains(id)) report_({id, OutputHealth::ready, {}, ""});
      });
    }
    const OutputId id = plan.id;
    next.emplace(id, std::move(plan));
  }
  outputs_ = std::move(next);
}

/// An output that is told again what it does already is no news: a real one would not click.
void DryDrivers::command(const OutputId& id, Level level, Duration run) {
  const auto [known, first] = levels_.try_emplace(id, kRest);
  const bool news = known->second != level || (level != kRest && run > Duration{0});
  known->second = level;
  if (!news) return;
  hooks_.say("dry run: " + would_do(id, level, run, hooks_.why(id)));
}

void DryDrivers::release(const OutputId& id) {
  hooks_.say(fmt::format("dry run: would start {} again", name_of_output(id)));
}

std::vector<HostView> DryDrivers::hosts() const {
  std::vector<HostView> views;
  for (const auto& [id, plan] : outputs_) {
    HostView view;
    view.id = id;
    view.plugin = plan.driver;
    view.health = OutputHealth::ready;
    views.push_back(std::move(view));
  }
  return views;
}

void DryDrivers::stop(std::function<void()> done) { hooks_.post(std::move(done)); }

void DryChannels::deliver(const Notice& notice) {
  for (const ChannelPlan& channel : channels_) {
    const auto& ranks = channel.ranks;
    const auto& to = notice.to;
    const bool wanted = to.empty() ? ranks.empty() || std::find(ranks.begin(), ranks.end(),
                                                                notice.rank) != ranks.end()
                                   : std::find(to.begin(), to.end(), channel.id) != to.end();
    if (!wanted) continue;
    say_(fmt::format("dry run: would tell {}: {}", channel.id, notice.title));
  }
}

std::string dry_answer(const std::string& json) {
  using Json = nlohmann::ordered_json;
  Json answer = Json::parse(json, nullptr, false);
  if (!answer.is_object()) return json;
  answer["dry_run"] = true;
  const auto text = answer.find("text");
  if (answer.contains("entry") && text != answer.end() && text->is_string()) {
    *text = text->get<std::string>() + " (dry run: not kept)";
  }
  return answer.dump();
}

}  // namespace tubwarden
