// Channels beside the alerts: heartbeats, tests, and what an earlier run could not deliver.
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "core/grow/phase_truth.hpp"
#include "shell/warden/asked.hpp"

namespace tubwarden {
namespace {

using Json = nlohmann::ordered_json;
using Fate = Delivery::Outcome;

/// A test is answered by then, whatever has come back.
constexpr Duration kTestWithin = seconds(20);

void answer_test(ChannelTest& test) {
  Json rows = Json::array();
  std::size_t good = 0;
  for (const auto& [id, outcome] : test.outcome) {
    const bool delivered = outcome == "delivered";
    good += delivered ? 1 : 0;
    rows.push_back({{"channel", id},
                    {"delivered", delivered},
                    {"why", delivered         ? ""
                            : outcome.empty() ? "no answer within 20s"
                                              : outcome}});
  }
  test.reply(Json{{"channels", rows},
                  {"text", fmt::format("{} of {} delivered", good, test.outcome.size())}}
                 .dump(-1, ' ', false, Json::error_handler_t::replace));
}

}  // namespace

void Warden::State::set_beats() {
  std::map<std::string, Instant> next;
  for (const ChannelPlan& channel : site->channels) {
    if (!channel.heartbeat) continue;
    const auto old = next_beats.find(channel.id);
    const Instant latest = now() + *channel.heartbeat;
    next[channel.id] = old == next_beats.end() ? now() : std::min(old->second, latest);
  }
  next_beats = std::move(next);
}

/// Comes out of the warden's own turn: one that hangs does not beat.
void Warden::State::beat() {
  if (!site) return;
  const Instant moment = now();
  for (const ChannelPlan& channel : site->channels) {
    const auto due = next_beats.find(channel.id);
    if (due == next_beats.end() || due->second > moment) continue;
    due->second = moment + *channel.heartbeat;
    Notice notice;
    notice.key = fmt::format("beat.{}@{}", channel.id, moment.time_since_epoch().count());
    notice.rank = AlertRank::noted;
    notice.state = NoticeState::alive;
    notice.title = site->site + ": alive";
    notice.text = fmt::format("{} tubs, broker {}, {} alerts", tubs.size(), is_up ? "up" : "away",
                              standing().size());
    notice.to = {channel.id};
    notice.fleeting = true;
    parts.channels.deliver(notice);
  }
}

void Warden::State::deliver_what_was_left() {
  const Stamp at = stamp();
  for (NoticeWritten& n : std::exchange(left_undelivered, {})) {
    Notice notice;
    notice.key = n.key;
    notice.rank = rank_named(n.rank).value_or(AlertRank::today);
    notice.state = notice_state_named(n.state);
    notice.title = n.title;
    notice.text = n.text;
    notice.to = {n.channel};
    notice.age = elapsed_at(n.at, Duration{0}, at);
    parts.channels.deliver(notice);
  }
}

void Warden::State::channel_done(const Delivery& d) {
  const bool delivered = d.outcome == Fate::delivered;
  if (const auto test = channel_tests.find(d.key); test != channel_tests.end()) {
    auto& outcome = test->second.outcome;
    if (const auto it = outcome.find(d.channel); it != outcome.end()) {
      it->second = delivered ? "delivered" : d.why;
    }
    const bool all = std::none_of(outcome.begin(), outcome.end(),
                                  [](const auto& one) { return one.second.empty(); });
    if (all) {
      ChannelTest done = std::move(test->second);
      channel_tests.erase(test);
      answer_test(done);
    }
  } else if (d.outcome != Fate::failing && !d.key.starts_with("beat.")) {
    parts.record.notice_done({d.key, d.channel, delivered, d.why});
  }
  const bool gone = site && std::none_of(site->channels.begin(), site->channels.end(),
                                         [&](const ChannelPlan& c) { return c.id == d.channel; });
  const AlertKey key{"site", "channel_" + d.channel};
  if (gone) {
    judge_site(key, false, Duration{0}, AlertRank::today,
               fmt::format("Channel {} has left the configuration.", d.channel));
    return;
  }
  judge_site(key, !delivered, Duration{0}, AlertRank::today,
             delivered ? fmt::format("Channel {} delivers again.", d.channel)
                       : fmt::format("Channel {} could not deliver: {}", d.channel, d.why));
}

void Warden::State::end_late_tests() {
  for (auto it = channel_tests.begin(); it != channel_tests.end();) {
    if (it->second.due > now()) {
      ++it;
      continue;
    }
    ChannelTest done = std::move(it->second);
    it = channel_tests.erase(it);
    answer_test(done);
  }
}

std::optional<Instant> Warden::State::channels_due() const {
  std::optional<Instant> at;
  const auto sooner = [&at](Instant t) { at = at ? std::min(*at, t) : t; };
  for (const auto& [id, due] : next_beats) sooner(due);
  for (const auto& [key, test] : channel_tests) sooner(test.due);
  return at;
}

/// {channel}: one, or all without.
void do_alert_test(Asked& asked) {
  Warden::State& s = asked.s;
  const std::string wanted = asked.args.text("channel");
  std::vector<std::string> known;
  if (s.site) {
    for (const ChannelPlan& channel : s.site->channels) known.push_back(channel.id);
  }
  if (known.empty()) {
    return asked.reply(Error{ErrorCode::not_found,
                             "there are no channels; name them under channels: in tubwarden.yaml"});
  }
  if (!wanted.empty()) {
    if (std::find(known.begin(), known.end(), wanted) == known.end()) {
      return asked.reply(unknown("channel", wanted, known));
    }
    known = {wanted};
  }
  if (s.channel_tests.size() >= 8) {
    return asked.reply(Error{ErrorCode::refused, "eight tests are under way; wait for their end"});
  }
  Notice notice;
  notice.key = fmt::format("test@{}", s.now().time_since_epoch().count());
  notice.rank = AlertRank::noted;
  notice.state = NoticeState::test;
  notice.title = s.site->site + ": a test";
  notice.text =
      fmt::format("{} tries whether this way of telling you works. Nothing is wrong.", asked.who);
  notice.to = known;
  notice.fleeting = true;
  ChannelTest test{std::move(asked.reply), s.now() + kTestWithin, {}};
  for (const std::string& id : known) test.outcome[id] = "";
  s.channel_tests[notice.key] = std::move(test);
  s.parts.channels.deliver(notice);
}

}  // namespace tubwarden
