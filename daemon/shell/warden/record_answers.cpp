// What copies of the record ask for. Threading: the loop's. Failure: answered with the record's
// own.
#include "shell/warden/asked.hpp"

namespace tubwarden {

/// Before a copy of the record is made beside the daemon: what it still holds goes to the disk.
void do_sync(Asked& asked) {
  Warden::State& s = asked.s;
  s.parts.record.sync([&s, reply = std::move(asked.reply)](const Outcome& done) {
    if (!done.ok()) return reply(done.error());
    reply(nlohmann::ordered_json{{"site", s.site ? s.site->site : ""},
                                 {"record_folder", s.site ? s.site->record_folder : ""}}
              .dump());
  });
}

}  // namespace tubwarden
