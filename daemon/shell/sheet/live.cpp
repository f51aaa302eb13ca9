#include "shell/sheet/live.hpp"

#include <algorithm>
#include <boost/asio/steady_timer.hpp>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <vector>

namespace tubwarden::sheet {
namespace {

namespace asio = boost::asio;
using Json = nlohmann::ordered_json;
using Parts = std::map<std::string, std::string>;  ///< id -> the element as text

constexpr std::size_t kEventBytesMax = 128 * 1024;
constexpr const char* kLists[] = {"tubs", "chambers"};

std::string text_of(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::shared_ptr<const std::string> event_of(const char* name, const Json& data) {
  return std::make_shared<const std::string>("event: " + std::string(name) +
                                             "\ndata: " + text_of(data) + "\n\n");
}

Parts parts_in(const Json& list) {
  Parts parts;
  for (const Json& element : list) {
    if (element.contains("id") && element["id"].is_string()) {
      parts[element["id"].get<std::string>()] = text_of(element);
    }
  }
  return parts;
}

bool is_whole(const Json& state) {
  return state.is_object() && state.contains("at") && state.contains("alerts") &&
         std::all_of(std::begin(kLists), std::end(kLists), [&](const char* name) {
           return state.contains(name) && state[name].is_array();
         });
}

}  // namespace

struct LiveHub::Impl : std::enable_shared_from_this<LiveHub::Impl> {
  Impl(asio::io_context& loop, const Clock& c, SheetServer::Ask a, const SheetLimits& l,
       SheetCounters& n)
      : timer(loop), heart(loop), clock(c), ask(std::move(a)), limits(l), counters(n) {}

  asio::steady_timer timer, heart;
  const Clock& clock;
  SheetServer::Ask ask;
  const SheetLimits& limits;
  SheetCounters& counters;
  std::vector<std::weak_ptr<LiveReader>> readers, new_ones;
  std::map<std::string, Parts> known;  ///< by list, as all readers know it
  std::string known_alerts;
  std::shared_ptr<const std::string> state;  ///< the whole of it
  std::optional<Instant> asked_at;
  bool asking = false, due = false, beating = false, over = false;
  const std::shared_ptr<const std::string> beat = std::make_shared<const std::string>(": \n\n");

  static void tell(std::vector<std::weak_ptr<LiveReader>>& to,
                   const std::shared_ptr<const std::string>& event) {
    const auto now = to;  // a reader that is too slow leaves within its tell()
    for (const auto& weak : now) {
      if (const auto reader = weak.lock()) reader->tell(event);
    }
  }

  void join(const std::shared_ptr<LiveReader>& reader) {
    const bool fresh = asked_at && clock.now() - *asked_at < limits.live_every;
    if (fresh && state && !asking) {
      readers.push_back(reader);
      reader->tell(state);
    } else {
      new_ones.push_back(reader);
      soon();
    }
    if (!beating) next_beat();
  }

  void next_beat() {
    beating = true;
    heart.expires_after(limits.heartbeat_every);
    heart.async_wait([self = shared_from_this()](boost::system::error_code code) {
      if (code || self->over) return;
      tell(self->readers, self->beat);
      self->beating = false;
      if (!self->readers.empty() || !self->new_ones.empty()) self->next_beat();
    });
  }

  /// Asks at once, or when the last time is long enough ago.
  void soon() {
    if (over || asking || due) return;
    const Instant now = clock.now();
    if (!asked_at || now - *asked_at >= limits.live_every) return ask_now();
    due = true;
    timer.expires_after(*asked_at + limits.live_every - now);
    timer.async_wait([self = shared_from_this()](boost::system::error_code code) {
      if (code || self->over) return;
      self->due = false;
      self->ask_now();
    });
  }

  void ask_now() {
    asking = true;
    asked_at = clock.now();
    ask("live", "{}", "sheet", [self = shared_from_this()](Result<std::string> answer) {
      self->asking = false;
      if (!self->over && answer.ok()) self->take(*answer);
    });
  }

  void take(const std::string& text) {
    if (text.size() > kEventBytesMax) {
      // Too much for an event: the page asks /api/status by itself when it is told this.
      const Json head = {{"at", nullptr}, {"too_large", true}};
      return tell_all(event_of("change", head), event_of("state", head));
    }
    const Json now = Json::parse(text, nullptr, false);
    if (!is_whole(now)) return;
    const Json change = what_differs(now);
    const bool news = change.size() > 1;
    if (news || !state) state = event_of("state", now);
    tell_all(news ? event_of("change", change) : nullptr, state);
  }

  void tell_all(const std::shared_ptr<const std::string>& change,
                const std::shared_ptr<const std::string>& whole) {
    if (change && !readers.empty()) {
      ++counters.live_events;
      tell(readers, change);
    }
    if (new_ones.empty()) return;
    tell(new_ones, whole);
    readers.insert(readers.end(), new_ones.begin(), new_ones.end());
    new_ones.clear();
  }

  /// The elements that differ from what is known, which they then are.
  Json what_differs(const Json& now) {
    Json change = {{"at", now["at"]}};
    Json gone = Json::object();
    for (const char* name : kLists) {
      Parts parts = parts_in(now[name]);
      Parts& before = known[name];
      for (const Json& element : now[name]) {
        const std::string id = element.value("id", "");
        const auto old = before.find(id);
        if (old == before.end() || old->second != parts[id]) change[name].push_back(element);
      }
      for (const auto& [id, unused] : before) {
        if (!parts.contains(id)) gone[name].push_back(id);
      }
      before = std::move(parts);
    }
    if (!gone.empty()) change["gone"] = gone;
    if (std::string alerts = text_of(now["alerts"]); alerts != known_alerts) {
      known_alerts = std::move(alerts);
      change["alerts"] = now["alerts"];
    }
    return change;
  }
};

LiveHub::LiveHub(asio::io_context& loop, const Clock& clock, SheetServer::Ask ask,
                 const SheetLimits& limits, SheetCounters& counters)
    : impl_(std::make_shared<Impl>(loop, clock, std::move(ask), limits, counters)) {}

LiveHub::~LiveHub() { stop(); }

void LiveHub::join(const std::shared_ptr<LiveReader>& reader) { impl_->join(reader); }

void LiveHub::leave(const LiveReader* reader) {
  const auto is_it = [&](const std::weak_ptr<LiveReader>& weak) {
    const auto held = weak.lock();
    return !held || held.get() == reader;
  };
  std::erase_if(impl_->readers, is_it);
  std::erase_if(impl_->new_ones, is_it);
}

void LiveHub::changed() {
  if (!impl_->readers.empty() || !impl_->new_ones.empty()) impl_->soon();
}

void LiveHub::stop() {
  impl_->over = true;
  impl_->timer.cancel();
  impl_->heart.cancel();
  impl_->readers.clear();
  impl_->new_ones.clear();
}

}  // namespace tubwarden::sheet
