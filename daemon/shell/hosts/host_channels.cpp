#include "shell/hosts/host_channels.hpp"

#include <algorithm>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <map>
#include <optional>
#include <utility>

#include "core/alert/retry.hpp"
#include "core/output/restart_policy.hpp"
#include "sdk/protocol.hpp"
#include "shell/hosts/drivers_state.hpp"
#include "shell/hosts/host_process.hpp"

namespace tubwarden {

namespace {

constexpr std::size_t kQueueMax = 64;
constexpr Duration kChannelsStopMax = seconds(2);

struct Message {
  std::string json;
  std::string key;
  Instant written{};
  bool fleeting = false;
};

struct Channel {
  ChannelPlan plan;
  std::deque<Message> queue;  ///< the front one is being delivered while `ticket` is set
  std::optional<std::uint64_t> ticket;
  Instant not_before{};
  int failures = 0;  ///< in a row
  std::string why;   ///< of the last
  std::uint64_t delivered = 0, given_up = 0;
};

struct Plugin {
  std::shared_ptr<HostProcess> process;
  RestartPolicy policy;
  Instant not_before{};
  std::string why;
  bool killed = false;
};

Duration pause_after(const RestartPolicy::Verdict& verdict) {
  return verdict.failed_safe ? RestartPolicy::kWindow : verdict.backoff;
}

HostWord host_word(protocol::SayLevel level) { return static_cast<HostWord>(level); }
static_assert(static_cast<int>(HostWord::error) == static_cast<int>(protocol::SayLevel::error));

}  // namespace

struct HostChannels::Impl {
  Impl(boost::asio::io_context& loop_in, HostOptions options_in)
      : loop(loop_in), options(std::move(options_in)), timer(loop_in) {}

  void pump();
  void send_front(Channel& channel, Plugin& plugin);
  bool ready(const std::string& name, Plugin& plugin, Instant now);
  void heard(const std::string& plugin, const protocol::ToDaemon& message);
  void delivered(const protocol::Delivered& answer);
  void tried(Channel& channel, bool ok, const std::string& why, bool for_good = false);
  void failed(Channel& channel, const std::string& why);
  void give_up(Channel& channel, const std::string& why);
  void give_up_the_old(Channel& channel, Instant now);
  void tell(const Channel& channel, const std::string& key, Delivery::Outcome outcome,
            const std::string& why = "") const {
    if (report) report({channel.plan.id, key, outcome, why});
  }
  void host_ended(const std::string& plugin, const HostEnding& ending);
  void schedule(std::optional<Instant> at);
  void say(HostWord word, const std::string& text) const {
    if (options.say) options.say(word, text);
  }
  void give_up_on_the_killed();
  void finish_stop_if_over();

  boost::asio::io_context& loop;
  HostOptions options;
  boost::asio::steady_timer timer;
  std::function<void(const Delivery&)> report;
  std::map<std::string, Channel> channels;
  std::map<std::string, Plugin> plugins;
  std::uint64_t next_ticket = 1;
  std::uint64_t dropped = 0;
  bool stopping = false;
  std::function<void()> stopped;
  /// Held by nobody else: work that the loop does later looks whether it still is there.
  std::shared_ptr<const int> alive = std::make_shared<const int>(0);
};

HostChannels::HostChannels(boost::asio::io_context& loop, HostOptions options)
    : impl_(std::make_unique<Impl>(loop, std::move(options))) {}

HostChannels::~HostChannels() = default;

void HostChannels::start(std::function<void(const Delivery&)> report) {
  impl_->report = std::move(report);
}

void HostChannels::want(std::vector<ChannelPlan> channels) {
  Impl& s = *impl_;
  std::map<std::string, Channel> kept;
  for (ChannelPlan& plan : channels) {
    Channel& channel = kept[plan.id];
    if (const auto old = s.channels.find(plan.id); old != s.channels.end()) {
      channel = std::move(old->second);
      // What another plugin was busy with starts over with the new one.
      if (channel.plan.plugin != plan.plugin) channel.ticket.reset();
    }
    channel.plan = std::move(plan);
    channel.not_before = {};  // a saved file is a new chance
  }
  s.channels = std::move(kept);
  for (auto it = s.plugins.begin(); it != s.plugins.end();) {
    const bool used = std::any_of(s.channels.begin(), s.channels.end(), [&](const auto& entry) {
      return entry.second.plan.plugin == it->first;
    });
    it->second.policy.acknowledge();  // a saved file is a new chance
    if (!used && it->second.process) it->second.process->hang_up();
    it = used || it->second.process ? std::next(it) : s.plugins.erase(it);
  }
  s.pump();
}

void HostChannels::deliver(const Notice& notice) {
  Impl& s = *impl_;
  if (s.stopping) return;
  const std::string json =
      protocol::channel_message(notice.key, std::string(name_of(notice.rank)),
                                std::string(name_of(notice.state)), notice.title, notice.text);
  const auto among = [](const auto& list, const auto& one) {
    return std::find(list.begin(), list.end(), one) != list.end();
  };
  for (auto& [id, channel] : s.channels) {
    const auto& ranks = channel.plan.ranks;
    const bool wanted =
        notice.to.empty() ? ranks.empty() || among(ranks, notice.rank) : among(notice.to, id);
    if (!wanted) continue;
    if (notice.fleeting && !channel.queue.empty()) {
      const std::string why = channel.why.empty() ? "" : " (" + channel.why + ")";
      s.tell(channel, notice.key, Delivery::Outcome::given_up,
             "messages before it wait still" + why);
      continue;
    }
    if (channel.queue.size() >= kQueueMax) {
      ++s.dropped;
      ++channel.given_up;
      s.tell(channel, notice.key, Delivery::Outcome::given_up,
             "64 messages wait already; this one was dropped");
      continue;
    }
    channel.queue.push_back({json, notice.key, host_clock_now() - notice.age, notice.fleeting});
  }
  // What is for a channel that is no longer there is no use keeping.
  for (const std::string& id : notice.to) {
    if (s.channels.contains(id) || !s.report) continue;
    s.report({id, notice.key, Delivery::Outcome::given_up, "it has left the configuration"});
  }
  s.pump();
}

std::vector<ChannelView> HostChannels::views() const {
  std::vector<ChannelView> all;
  const Instant now = host_clock_now();
  for (const auto& [id, channel] : impl_->channels) {
    ChannelView view{
        id,          channel.queue.size(), channel.delivered, channel.given_up, channel.failures,
        channel.why, Duration{0}};
    if (!channel.queue.empty() && channel.not_before > now)
      view.next_try = channel.not_before - now;
    all.push_back(std::move(view));
  }
  return all;
}

void HostChannels::site(std::string site_json) { impl_->options.site_json = std::move(site_json); }

std::size_t HostChannels::waiting() const {
  std::size_t count = 0;
  for (const auto& [id, channel] : impl_->channels) count += channel.queue.size();
  return count;
}

std::uint64_t HostChannels::dropped() const { return impl_->dropped; }

void HostChannels::stop(std::function<void()> done) {
  Impl& s = *impl_;
  s.stopping = true;
  s.stopped = std::move(done);
  // What waits stands in the record, and is delivered after the next start.
  for (auto& [id, channel] : s.channels) {
    channel.queue.clear();
    channel.ticket.reset();
  }
  for (auto& [name, plugin] : s.plugins) {
    if (plugin.process) plugin.process->hang_up();
  }
  s.timer.expires_after(kChannelsStopMax);
  s.timer.async_wait([&s, held = std::weak_ptr(s.alive)](const boost::system::error_code& error) {
    if (error || held.expired()) return;
    for (auto& [name, plugin] : s.plugins) {
      if (plugin.process) plugin.process->kill();
    }
    s.give_up_on_the_killed();
  });
  boost::asio::post(s.loop, [&s, held = std::weak_ptr(s.alive)] {
    if (!held.expired()) s.finish_stop_if_over();
  });
}

/// One that stands in the kernel does not end though it was killed.
void HostChannels::Impl::give_up_on_the_killed() {
  timer.expires_after(kChannelsStopMax);
  timer.async_wait([this, held = std::weak_ptr(alive)](const boost::system::error_code& error) {
    if (error || held.expired()) return;
    for (auto& [name, plugin] : plugins) plugin.process.reset();
    finish_stop_if_over();
  });
}

void HostChannels::Impl::finish_stop_if_over() {
  if (!stopping || !stopped) return;
  for (const auto& [name, plugin] : plugins) {
    if (plugin.process) return;
  }
  timer.cancel();
  const auto done = std::exchange(stopped, nullptr);
  done();
}

/// Whether the plugin's host can take a message now; starts it if that is all it needs.
bool HostChannels::Impl::ready(const std::string& name, Plugin& plugin, Instant now) {
  if (plugin.process) return true;
  // Unlike an output, a channel does no harm by trying again later.
  if (plugin.policy.failed_safe() && plugin.not_before <= now) plugin.policy.acknowledge();
  if (plugin.policy.failed_safe() || plugin.not_before > now) return false;
  HostProcess::Handlers handlers;
  handlers.message = [this, name](const protocol::ToDaemon& m) { heard(name, m); };
  handlers.ended = [this, name](const HostEnding& ending) { host_ended(name, ending); };
  auto process =
      HostProcess::serve(loop, options.host_program, options.plugin_folder + "/" + name + ".so",
                         options.limits, std::move(handlers));
  plugin.why.clear();
  if (process) {
    plugin.process = *process;
    return true;
  }
  plugin.why = process.error().text;
  plugin.not_before = now + pause_after(plugin.policy.crashed(now));
  return false;
}

void HostChannels::Impl::pump() {
  if (stopping) return;
  const Instant now = host_clock_now();
  std::optional<Instant> wake;
  const auto sooner = [&wake](Instant t) { wake = wake ? std::min(*wake, t) : t; };
  for (auto& [id, channel] : channels) {
    if (channel.ticket) continue;
    give_up_the_old(channel, now);
    if (channel.queue.empty()) continue;
    if (channel.not_before > now) {
      sooner(channel.not_before);
      continue;
    }
    Plugin& plugin = plugins[channel.plan.plugin];
    if (ready(channel.plan.plugin, plugin, now)) {
      send_front(channel, plugin);
    } else if (plugin.policy.failed_safe()) {
      channel.failures = std::max(channel.failures, kFailuresTold - 1);
      failed(channel, channel.plan.plugin + ": " + plugin.why);
      channel.not_before = std::max(channel.not_before, plugin.not_before);
    } else {
      sooner(plugin.not_before);
    }
    if (!channel.ticket && !channel.queue.empty()) sooner(std::max(channel.not_before, now));
  }
  schedule(wake);
}

void HostChannels::Impl::send_front(Channel& channel, Plugin& plugin) {
  const std::uint64_t ticket = next_ticket++;
  const bool sent = plugin.process->send(protocol::Deliver{
      ticket, channel.plan.wiring_json, options.site_json, channel.queue.front().json});
  if (sent) {
    channel.ticket = ticket;
  } else {
    tried(channel, false, "its host takes no packet of that length now");
  }
}

void HostChannels::Impl::give_up(Channel& channel, const std::string& why) {
  const std::string key = channel.queue.front().key;
  channel.queue.pop_front();
  ++channel.given_up;
  tell(channel, key, Delivery::Outcome::given_up, why);
}

void HostChannels::Impl::give_up_the_old(Channel& channel, Instant now) {
  while (!channel.queue.empty() && channel.queue.front().written + kRetryFor <= now) {
    give_up(channel, "not delivered within 24h: " + channel.why);
  }
}

void HostChannels::Impl::failed(Channel& channel, const std::string& why) {
  channel.why = why;
  ++channel.failures;
  if (channel.queue.front().fleeting) {
    // There is another soon: its absence is the message.
    give_up(channel, why);
    return;
  }
  channel.not_before = host_clock_now() + retry_pause(channel.failures);
  say(HostWord::warning, "channel " + channel.plan.id + ": " + why + "; tried again");
  if (channel.failures == kFailuresTold) {
    tell(channel, channel.queue.front().key, Delivery::Outcome::failing, why);
  }
}

void HostChannels::Impl::tried(Channel& channel, bool ok, const std::string& why, bool for_good) {
  channel.ticket.reset();
  if (channel.queue.empty()) return;
  if (!ok && !for_good) return failed(channel, why);
  channel.not_before = {};
  if (!ok) {
    channel.why = why;
    return give_up(channel, why);
  }
  channel.failures = 0;
  channel.why.clear();
  ++channel.delivered;
  const std::string key = channel.queue.front().key;
  channel.queue.pop_front();
  tell(channel, key, Delivery::Outcome::delivered);
}

void HostChannels::Impl::heard(const std::string& plugin, const protocol::ToDaemon& message) {
  if (const auto* answer = std::get_if<protocol::Delivered>(&message)) return delivered(*answer);
  if (const auto* said = std::get_if<protocol::Said>(&message)) {
    return say(host_word(said->level), said->text);
  }
  if (const auto* failed = std::get_if<protocol::Failed>(&message)) {
    plugins[plugin].why = failed->text;
    say(HostWord::error, plugin + ": " + failed->text);
  }
}

void HostChannels::Impl::delivered(const protocol::Delivered& answer) {
  for (auto& [id, channel] : channels) {
    if (channel.ticket != answer.ticket) continue;
    tried(channel, answer.delivered, answer.why, answer.for_good);
    break;
  }
  pump();
}

void HostChannels::Impl::host_ended(const std::string& name, const HostEnding& ending) {
  Plugin& plugin = plugins[name];
  plugin.process.reset();
  if (stopping) return finish_stop_if_over();
  const bool used = std::any_of(channels.begin(), channels.end(), [&](const auto& entry) {
    return entry.second.plan.plugin == name;
  });
  if (!used) {
    plugins.erase(name);
    return;
  }
  const Instant now = host_clock_now();
  plugin.not_before = now + pause_after(plugin.policy.crashed(now));
  const std::string words = "its host " + ending.words();
  say(HostWord::error, name + ": " + words);
  if (plugin.why.empty()) plugin.why = words;
  const std::string why = plugin.why;
  std::vector<std::string> busy;
  for (auto& [id, channel] : channels) {
    if (channel.plan.plugin == name && channel.ticket) busy.push_back(id);
  }
  for (const std::string& id : busy) {
    if (const auto it = channels.find(id); it != channels.end()) tried(it->second, false, why);
  }
  pump();
}

void HostChannels::Impl::schedule(std::optional<Instant> at) {
  timer.cancel();
  if (!at) return;
  timer.expires_after(std::max(*at - host_clock_now(), Duration{0}));
  timer.async_wait([this, held = std::weak_ptr(alive)](const boost::system::error_code& error) {
    if (!error && !held.expired()) pump();
  });
}

}  // namespace tubwarden
