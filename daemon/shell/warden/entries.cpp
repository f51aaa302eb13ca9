#include <algorithm>

#include "shell/warden/warden_state.hpp"

namespace tubwarden {

void Warden::State::append(std::vector<Entry> entries,
                           std::function<void(Result<std::vector<std::int64_t>>)> done) {
  parts.record.append(std::move(entries), [this, done = std::move(done)](auto result) {
    const AlertKey key{"site", "record_failed"};
    judge_site(key, !result.ok(), Duration{0}, AlertRank::now,
               result.ok() ? "The record keeps entries again."
                           : "The record could not keep an entry: " + result.error().text +
                                 " Look at the disk; what was not kept must be entered again.");
    if (done) done(std::move(result));
    ask_for_wake();
  });
}

void Warden::State::append_and_answer(
    std::vector<Entry> entries, std::string late, Reply reply,
    std::function<std::string(std::int64_t)> answer,
    std::function<void(const Result<std::vector<std::int64_t>>&)> settled) {
  auto w =
      std::make_shared<Waiting>(Waiting{std::move(reply), now() + kOnDiskWithin, std::move(late)});
  waiting.push_back(w);
  append(std::move(entries),
         [this, w, answer = std::move(answer), settled = std::move(settled)](auto result) {
           if (settled) settled(result);
           judge_site({"site", "record_slow"}, false, Duration{0}, AlertRank::today,
                      "The record keeps up again.");
           if (!w->reply) return;
           Reply to = std::move(w->reply);
           w->reply = nullptr;
           std::erase(waiting, w);
           if (result.ok()) {
             to(answer(result->empty() ? 0 : result->back()));
           } else {
             to(result.error());
           }
         });
}

void Warden::State::answer_late() {
  const Instant moment = now();
  std::vector<std::shared_ptr<Waiting>> late;
  std::erase_if(waiting, [&](const std::shared_ptr<Waiting>& w) {
    if (w->due > moment) return false;
    late.push_back(w);
    return true;
  });
  for (const auto& w : late) {
    judge_site({"site", "record_slow"}, true, Duration{0}, AlertRank::today,
               "An entry is done but not yet on disk after 5s. Look at the disk or card.");
    Reply to = std::move(w->reply);
    w->reply = nullptr;
    to(w->late);
  }
}

}  // namespace tubwarden
