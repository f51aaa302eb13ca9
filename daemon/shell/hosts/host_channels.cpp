#include "shell/hosts/host_channels.hpp"

#include <algorithm>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <map>
#include <optional>
#include <utility>

#include "core/output/restart_policy.hpp"
#include "sdk/protocol.hpp"
#include "shell/hosts/drivers_state.hpp"
#include "shell/hosts/host_process.hpp"

namespace tubwarden {

namespace {

constexpr std::size_t kQueueMax = 64;
constexpr int kTriesMax = 3;
constexpr Duration kFirstBackoff = seconds(1);
constexpr Duration kChannelsStopMax = seconds(2);

struct Message {
  std::string json;
  int tries = 0;
};

struct Channel {
  ChannelPlan plan;
  std::deque<Message> queue;  ///< the front one is being delivered while `ticket` is set
  std::optional<std::uint64_t> ticket;
  Instant not_before{};
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
  std::function<void(const std::string&, bool, const std::string&)> report;
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

void HostChannels::start(std::function<void(const std::string&, bool, const std::string&)> report) {
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
                                notice.over ? "over" : "raised", notice.title, notice.text);
  for (auto& [id, channel] : s.channels) {
    const auto& ranks = channel.plan.ranks;
    const bool wanted =
        ranks.empty() || std::find(ranks.begin(), ranks.end(), notice.rank) != ranks.end();
    if (!wanted) continue;
    if (channel.queue.size() >= kQueueMax) {
      ++s.dropped;
      if (s.report) s.report(id, false, "64 messages wait already; this one was dropped");
      continue;
    }
    channel.queue.push_back({json, 0});
  }
  s.pump();
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
  for (auto& [id, channel] : s.channels) {
    for (std::size_t i = 0; i < channel.queue.size() && s.report; ++i) {
      s.report(id, false, "the daemon stops before it was delivered");
    }
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
    if (channel.queue.empty() || channel.ticket) continue;
    if (channel.not_before > now) {
      sooner(channel.not_before);
      continue;
    }
    Plugin& plugin = plugins[channel.plan.plugin];
    if (ready(channel.plan.plugin, plugin, now)) {
      send_front(channel, plugin);
    } else if (plugin.policy.failed_safe()) {
      while (!channel.queue.empty()) {
        channel.queue.pop_front();
        if (report) report(id, false, channel.plan.plugin + ": " + plugin.why);
      }
    } else {
      sooner(plugin.not_before);
    }
    if (!channel.ticket && !channel.queue.empty()) sooner(std::max(channel.not_before, now));
  }
  schedule(wake);
}

void HostChannels::Impl::send_front(Channel& channel, Plugin& plugin) {
  Message& message = channel.queue.front();
  ++message.tries;
  const std::uint64_t ticket = next_ticket++;
  const bool sent = plugin.process->send(
      protocol::Deliver{ticket, channel.plan.wiring_json, options.site_json, message.json});
  if (sent) {
    channel.ticket = ticket;
  } else {
    tried(channel, false, "its host takes no packet of that length now");
  }
}

void HostChannels::Impl::tried(Channel& channel, bool ok, const std::string& why, bool for_good) {
  channel.ticket.reset();
  if (channel.queue.empty()) return;
  const int tries = channel.queue.front().tries;
  if (!ok && !for_good && tries < kTriesMax) {
    channel.not_before = host_clock_now() + kFirstBackoff * (1 << (2 * (tries - 1)));
    return say(HostWord::warning, "channel " + channel.plan.id + ": " + why + "; tried again");
  }
  channel.queue.pop_front();
  channel.not_before = {};
  if (report) report(channel.plan.id, ok, ok ? "" : why);
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
