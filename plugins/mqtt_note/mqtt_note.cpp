// A channel: each message is published once on a topic of the site's broker, for whoever listens.

#include <cstdint>
#include <string>

#include "mqtt_note/post.hpp"
#include "mqtt_site/site_broker.hpp"
#include "sdk/entry.hpp"
#include "sdk/note.hpp"
#include "sdk/plugin.h"
#include "sdk/rows.hpp"

namespace {

using namespace tubwarden;

constexpr tw_option kOptions[] = {
    {"topic", "topic", "", nullptr, "Where it is published."},
    {"as", "text", "json|text", "json", "One JSON object, or the title and the text as lines."},
    {"timeout", "duration", "1s..60s", "10s", "After this long a try has failed."},
};
constexpr std::uint32_t kOptionCount = sizeof kOptions / sizeof kOptions[0];

std::string payload_of(const Note& note, const std::string& site, const std::string& as) {
  if (as == "text") return note.title + "\n" + note.text;
  std::string out = "{";
  const auto member = [&out](const char* name, const std::string& value) {
    out +=
        (out.size() > 1 ? ",\"" : "\"") + std::string(name) + "\":\"" + json_escaped(value) + "\"";
  };
  member("site", site);
  member("rank", note.rank);
  member("state", note.state);
  member("title", note.title);
  member("text", note.text);
  member("key", note.key);
  return out + "}";
}

std::int32_t publish(const tw_host* host, const char* wiring, const char* site,
                     const char* message) {
  const Result<Rows> rows = Rows::read(kOptions, kOptionCount, wiring);
  if (!rows) return fail(host, rows.error());
  const Result<Note> note = parse_note(message);
  if (!note) return fail(host, note.error());
  const Result<SiteBroker> broker = site_broker(site);
  if (!broker) return fail(host, broker.error());
  const note::Posted posted =
      note::post(*broker, rows->text("topic"), payload_of(*note, broker->site, rows->text("as")),
                 rows->duration("timeout"));
  switch (posted.verdict) {
    case note::Posted::Verdict::heard:
      return TW_OK;
    case note::Posted::Verdict::refused:
      return fail(host, TW_REFUSED, posted.why);
    case note::Posted::Verdict::failed:
      return fail(host, TW_FAILED, posted.why);
  }
  return TW_FAILED;
}

std::int32_t deliver(const tw_host* host, const char* wiring, const char* site,
                     const char* message) {
  return guarded(host, [&] { return publish(host, wiring, site, message); });
}

constexpr tw_plugin kPlugin = channel("mqtt_note", kOptions, deliver);

}  // namespace

extern "C" const tw_plugin* tubwarden_plugin(void) { return &kPlugin; }
