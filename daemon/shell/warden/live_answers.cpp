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

}  // namespace

void do_live(Asked& asked) {
  Json status = status_view(asked.s);
  Json j = {{"at", status["at"]}, {"site", status["site"]}};
  for (const char* name : {"tubs", "chambers", "alerts"}) {
    drop_ages(status[name]);
    j[name] = std::move(status[name]);
  }
  asked.reply(j.dump());
}

}  // namespace tubwarden
