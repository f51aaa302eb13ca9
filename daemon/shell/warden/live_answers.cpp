#include "shell/warden/asked.hpp"
#include "shell/warden/views.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;

/// What a page that is open draws by itself, or asks for when somebody looks at it.
constexpr const char* kNotLive[] = {"sensors",  "water",    "surfaces",
                                    "host_pid", "restarts", "starts_last_hour"};

/// Drops what only ages (members that end in _s), so that an air in which nothing happens is the
/// same text as before.
void drop_ages(Json& json) {
  if (json.is_object()) {
    std::vector<std::string> dropped(std::begin(kNotLive), std::end(kNotLive));
    for (const auto& [name, unused] : json.items()) {
      if (name.ends_with("_s")) dropped.push_back(name);
    }
    for (const std::string& name : dropped) json.erase(name);
  }
  if (json.is_structured()) {
    for (auto& element : json) drop_ages(element);
  }
}

/// Times to the second: an alert's are reckoned anew each time from two clocks, and the thousandths
/// would make news of it.
void round_times(Json& alert) {
  constexpr std::size_t kPoint = 19, kWhole = 24;  // 2026-11-25T10:00:00.000Z
  for (const char* name : {"since", "quiet_until", "off_since"}) {
    const auto it = alert.find(name);
    if (it == alert.end() || !it->is_string()) continue;
    auto text = it->get<std::string>();
    if (text.size() != kWhole || text[kPoint] != '.') continue;
    text.erase(kPoint, kWhole - kPoint - 1);
    *it = text;
  }
}

}  // namespace

void do_live(Asked& asked) {
  Json status = status_view(asked.s);
  Json j = {{"at", status["at"]}, {"site", status["site"]}};
  for (const char* name : {"tubs", "chambers", "alerts"}) {
    drop_ages(status[name]);
    j[name] = std::move(status[name]);
  }
  for (Json& alert : j["alerts"]) {
    if (alert.is_object()) round_times(alert);
  }
  asked.reply(j.dump());
}

}  // namespace tubwarden
