#include "programs/chamber/play.hpp"

#include <fmt/core.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cstdio>
#include <set>
#include <vector>

#include "programs/chamber/room_voice.hpp"
#include "rehearsal/played_chamber.hpp"
#include "settings/settings.hpp"
#include "shell/broker/loop_hooks.hpp"
#include "shell/broker/paho_broker.hpp"
#include "shell/hosts/describe.hpp"
#include "shell/loop/board_clock.hpp"
#include "shell/loop/signal_watch.hpp"

namespace tubwarden {
namespace {

namespace asio = boost::asio;
using rehearsal::PlayedChamber;
using rehearsal::Word;

BrokerLink link_of(const SiteSettings& site) {
  BrokerLink link;
  link.url = site.broker.url;
  link.user_file = site.broker.user_file;
  link.ca_file = site.broker.ca_file;
  link.cert_file = site.broker.cert_file;
  link.key_file = site.broker.key_file;
  link.client_id = fmt::format("tubwarden-chamber-{}-{}", site.site, ::getpid());
  return link;
}

void complain(const std::string& text) { std::fprintf(stderr, "%s\n", text.c_str()); }

double substrate_in(const GrowPlan& grow, const std::string& chamber) {
  double kg = 0.0;
  for (const TubPlan& tub : grow.tubs) {
    if (tub.chamber == chamber) kg += tub.substrate_kg.value_or(0.0);
  }
  return kg;
}

}  // namespace

struct Play::Impl {
  explicit Impl(PlayOptions o) : options(std::move(o)), timer(loop) {}

  PlayOptions options;
  asio::io_context loop{1};
  asio::steady_timer timer;
  BoardClock clock;
  std::vector<PlayedChamber> chambers;
  std::unique_ptr<RoomVoice> room;
  std::unique_ptr<PahoBroker> broker;
  std::unique_ptr<SignalWatch> signals;
  asio::signal_set lids{loop, SIGUSR1, SIGUSR2};
  Instant next_say{};

  Outcome start();
  Outcome take(const Loaded& loaded);
  Outcome take_chamber(const GrowPlan& grow, const ChamberPlan& chamber,
                       const rehearsal::RoomDay& day, std::uint64_t seed);
  rehearsal::RoomDay day_of(const RoomPlan& plan) const;
  void connect(const SiteSettings& site);
  void say(const std::vector<Word>& words) {
    for (const Word& word : words) broker->publish(word.topic, word.payload, false);
  }
  void heard(const BrokerMessage& message);
  void turn();
  void wait();
  void wait_for_lids();
};

rehearsal::RoomDay Play::Impl::day_of(const RoomPlan& plan) const {
  rehearsal::RoomDay day;
  day.mean_c = options.room_celsius.value_or(plan.temperature.fixed.value_or(day.mean_c));
  day.humidity_pct =
      options.room_humidity_pct.value_or(plan.humidity.fixed.value_or(day.humidity_pct));
  day.co2_ppm = plan.co2.fixed.value_or(day.co2_ppm);
  return day;
}

Outcome Play::Impl::take_chamber(const GrowPlan& grow, const ChamberPlan& chamber,
                                 const rehearsal::RoomDay& day, std::uint64_t seed) {
  const TubPlan* leader = grow.tub(chamber.leader);
  const double litres = chamber.net_volume.in(leader ? leader->phase : "");
  if (litres <= 0.0) {
    return Error{ErrorCode::bad_input, fmt::format("{}: no net_volume to play", chamber.id)};
  }
  const double kg = substrate_in(grow, chamber.id);
  const auto parameters =
      rehearsal::parameters_of(options.load, litres, kg > 0.0 ? std::optional(kg) : std::nullopt);
  rehearsal::StartAir start;
  start.celsius = day.mean_c;
  start.co2_ppm = day.co2_ppm;
  start.second_of_day = clock.local_second_of_day();
  Result<PlayedChamber> played =
      PlayedChamber::make(chamber, parameters, day, start, seed, clock.now());
  if (!played) return played.error();
  for (const std::string& text : played->unplayed()) complain(text);
  chambers.push_back(std::move(played).value());
  return Done{};
}

Outcome Play::Impl::take(const Loaded& loaded) {
  const rehearsal::RoomDay day = day_of(loaded.grow.room);
  std::uint64_t seed = options.seed;
  for (const ChamberPlan& chamber : loaded.grow.chambers) {
    ++seed;
    if (!options.chamber.empty() && chamber.id != options.chamber) continue;
    const Outcome taken = take_chamber(loaded.grow, chamber, day, seed);
    if (!taken) return taken;
  }
  if (!chambers.empty()) return Done{};
  if (options.chamber.empty()) return Error{ErrorCode::not_found, "no chamber to play"};
  return Error{ErrorCode::not_found, fmt::format("no chamber '{}' to play", options.chamber)};
}

Outcome Play::Impl::start() {
  const PluginCatalogue plugins = describe_all(options.plugins, options.host);
  const Loaded loaded = load_folder(options.config, plugins);
  for (const Finding& finding : loaded.findings) {
    if (finding.severity == Severity::error) complain(finding.told());
  }
  if (!loaded.site) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{}: no site to play in", options.config.string())};
  }
  if (const Outcome taken = take(loaded); !taken) return taken;
  const Result<RoomVoice> voice = RoomVoice::make(loaded.grow.room);
  if (!voice) return voice.error();
  room = std::make_unique<RoomVoice>(*voice);
  connect(*loaded.site);
  return Done{};
}

void Play::Impl::connect(const SiteSettings& site) {
  broker = std::make_unique<PahoBroker>(link_of(site), hooks_on(loop), clock);
  std::set<std::string> topics;
  for (const PlayedChamber& chamber : chambers) topics.merge(chamber.hears());
  broker->want(std::move(topics));
  Broker::Handlers handlers;
  handlers.message = [this](const BrokerMessage& message) { heard(message); };
  handlers.up = [this] {
    for (const PlayedChamber& chamber : chambers) say(chamber.confirmations());
    next_say = clock.now();
    wait();
  };
  handlers.down = [](const std::string& why) { complain("broker: " + why); };
  broker->start(std::move(handlers));
  signals = std::make_unique<SignalWatch>(
      loop, SignalWatch::Handlers{[this](int) { loop.stop(); }, [] {}});
  wait_for_lids();
  next_say = clock.now() + options.every;  // or at once when the broker is there
  wait();
}

void Play::Impl::heard(const BrokerMessage& message) {
  const Instant now = clock.now();
  for (PlayedChamber& chamber : chambers) {
    say(chamber.fall(now));
    say(chamber.heard(message.topic, message.payload, now));
  }
  wait();
}

void Play::Impl::turn() {
  const Instant now = clock.now();
  for (PlayedChamber& chamber : chambers) say(chamber.fall(now));
  if (now >= next_say) {
    for (PlayedChamber& chamber : chambers) {
      say(chamber.sensors(now, clock.wall()));
      if (options.talk) std::printf("%s\n", chamber.told().c_str());
    }
    say(room->words(chambers.front().model(), clock.wall()));
    if (options.talk) std::fflush(stdout);
    next_say = std::max(next_say + options.every, now);
  }
  wait();
}

/// One timer: the next word of the sensors, or the next relay that falls.
void Play::Impl::wait() {
  Instant next = next_say;
  for (const PlayedChamber& chamber : chambers) {
    if (const auto fall = chamber.next_fall()) next = std::min(next, *fall);
  }
  timer.expires_after(std::max(Duration{0}, next - clock.now()));
  timer.async_wait([this](boost::system::error_code code) {
    if (!code) turn();
  });
}

/// SIGUSR1 takes the lids off, SIGUSR2 puts them on.
void Play::Impl::wait_for_lids() {
  lids.async_wait([this](boost::system::error_code code, int signal) {
    if (code) return;
    for (PlayedChamber& chamber : chambers) chamber.lid(signal == SIGUSR1, clock.now());
    wait_for_lids();
  });
}

Play::Play(PlayOptions options) : impl_(std::make_unique<Impl>(std::move(options))) {}
Play::~Play() = default;
Outcome Play::start() { return impl_->start(); }
void Play::run() { impl_->loop.run(); }

}  // namespace tubwarden
