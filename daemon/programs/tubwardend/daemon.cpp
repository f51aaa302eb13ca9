#include "programs/tubwardend/daemon.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cstdlib>
#include <optional>

#include "programs/tubwardend/current_broker.hpp"
#include "programs/tubwardend/dry_ports.hpp"
#include "programs/tubwardend/dry_record.hpp"
#include "programs/tubwardend/past.hpp"
#include "programs/tubwardend/sheet_parts.hpp"
#include "programs/tubwardend/site_json.hpp"
#include "settings/last_good.hpp"
#include "shell/broker/loop_hooks.hpp"
#include "shell/control/control_server.hpp"
#include "shell/hosts/describe.hpp"
#include "shell/hosts/host_channels.hpp"
#include "shell/hosts/host_drivers.hpp"
#include "shell/log/log.hpp"
#include "shell/loop/board_clock.hpp"
#include "shell/loop/folder_watch.hpp"
#include "shell/loop/signal_watch.hpp"
#include "shell/record/sqlite_record.hpp"
#include "shell/service/notify.hpp"
#include "shell/warden/warden.hpp"

namespace tubwarden {
namespace {

namespace asio = boost::asio;
namespace fs = std::filesystem;

/// With nothing to do and no watchdog to feed, the loop still looks around this often.
constexpr Duration kLongestSleep = seconds(10);
/// The service manager's status line follows no faster.
constexpr Duration kStatusEvery = seconds(1);
/// Outputs that do not answer are killed by then; the daemon ends anyway.
constexpr Duration kStopWithin = seconds(4);

BrokerLink link_of(const SiteSettings& site) {
  BrokerLink link;
  link.url = site.broker.url;
  link.user_file = site.broker.user_file;
  link.ca_file = site.broker.ca_file;
  link.cert_file = site.broker.cert_file;
  link.key_file = site.broker.key_file;
  link.client_id = fmt::format("tubwarden-{}-{}", site.site, ::getpid());
  link.will_topic = "tubwarden/" + site.site + "/awake";
  link.will_payload = R"({"awake":false})";
  return link;
}

/// Where the unit's stop-post step looks for the outputs in use: see systemd/tubwarden.service.
std::string safe_list_file(const SiteSettings& site) {
  const char* given = std::getenv("RUNTIME_DIRECTORY");  // several are separated by colons
  const std::string folders = given ? given : "";
  const fs::path folder = folders.empty() ? fs::absolute(site.control_socket).parent_path()
                                          : fs::path(folders.substr(0, folders.find(':')));
  return folder / "outputs.list";
}

ControlServer::Reply dry_reply(ControlServer::Reply reply) {
  return [reply = std::move(reply)](Result<std::string> answer) {
    reply(answer.ok() ? Result<std::string>(dry_answer(*answer)) : answer);
  };
}

SocketCounters counters_of(const ControlCounters& c) {
  return {c.requests, c.malformed, c.too_long, c.too_many, c.cut_off, c.clients};
}

/// What hosts and plugins say goes to the log.
void say(HostWord word, std::string_view text) {
  switch (word) {
    case HostWord::debug:
      return log::debug(text);
    case HostWord::info:
      return log::info(text);
    case HostWord::warning:
      return log::warning(text);
    case HostWord::error:
      return log::error(text);
  }
}

}  // namespace

struct Daemon::Impl {
  explicit Impl(DaemonOptions o) : options(std::move(o)), timer(loop) {}

  DaemonOptions options;
  asio::io_context loop{1};
  asio::steady_timer timer;
  Instant timer_at = Instant::max();
  Instant fed_at{}, told_at{};
  std::string told;  ///< the manager's status line
  BoardClock clock;
  PluginCatalogue plugins;
  std::unique_ptr<DryRecord> dry_record;  ///< of a dry run; outlives the record in it
  std::unique_ptr<SqliteRecord> record;
  std::unique_ptr<CurrentBroker> broker;
  std::unique_ptr<DryBroker> dry_broker;
  std::unique_ptr<Drivers> drivers;
  std::unique_ptr<Channels> channels;
  HostDrivers* host_drivers = nullptr;    ///< `drivers`; nothing in a dry run
  HostChannels* host_channels = nullptr;  ///< `channels`, likewise
  std::unique_ptr<Warden> warden;
  std::unique_ptr<ControlServer> control;
  std::unique_ptr<SheetServer> sheet;  ///< nothing where the configuration has none
  std::unique_ptr<SignalWatch> signals;
  std::unique_ptr<FolderWatch> folder;
  std::optional<BrokerSettings> connected_to;
  std::optional<SheetSettings> sheet_as_read;  ///< the configuration's, when it was last looked at
  std::string state_folder;
  bool stopping = false;

  void post(std::function<void()> work) { asio::post(loop, std::move(work)); }
  void turn_completed(Instant now);
  void wake_at(Instant at);
  Outcome start();
  Result<Loaded> first_configuration(ConfigSource& source);
  Outcome open_record(const SiteSettings& site);
  void make_ports(const SiteSettings& site);
  void make_dry_ports();
  void start_sheet(const SiteSettings& site);
  void reload();
  void adopt(Loaded loaded, ConfigSource source);
  void stop(int signal);
};

/// The warden asks for its next wake at the end of each turn, so this is when one has been
/// completed: nothing else feeds the watchdog.
void Daemon::Impl::turn_completed(Instant now) {
  const auto watchdog = service::watchdog_interval();
  if (watchdog && now - fed_at >= *watchdog / 6) {
    fed_at = now;
    service::notify_watchdog();
  }
  if (now - told_at < kStatusEvery) return;
  told_at = now;
  if (std::string line = warden->in_short(); line != told) {
    told = std::move(line);
    service::notify_status(told);
  }
}

/// One timer for the whole daemon. With a watchdog there is a turn each third of its interval.
void Daemon::Impl::wake_at(Instant at) {
  if (sheet) sheet->changed();
  const auto watchdog = service::watchdog_interval();
  const Duration longest = watchdog ? std::min(kLongestSleep, *watchdog / 3) : kLongestSleep;
  const Instant now = clock.now();
  turn_completed(now);
  at = std::min(at, now + longest);
  if (timer_at <= at && timer_at > now) return;
  timer_at = at;
  timer.expires_after(std::max(Duration{0}, at - now));
  timer.async_wait([this](boost::system::error_code code) {
    if (code) return;
    timer_at = Instant::max();
    warden->tick();
  });
}

/// The folder if it is whole, else the last good copy, else what is whole of the folder.
Result<Loaded> Daemon::Impl::first_configuration(ConfigSource& source) {
  Loaded loaded = load_folder(options.config, plugins);
  const char* given = std::getenv("STATE_DIRECTORY");
  state_folder =
      loaded.site ? loaded.site->record_folder : std::string(given ? given : "/var/lib/tubwarden");
  source = ConfigSource::folder;
  if (!loaded.has_errors() || (options.dry && loaded.site)) return loaded;
  const fs::path copy = last_good_in(state_folder);
  if (!options.dry && fs::is_directory(copy)) {
    Loaded good = load_folder(copy, plugins);
    if (good.site && !good.has_errors()) {
      good.findings = loaded.findings;
      source = ConfigSource::last_good;
      return good;
    }
  }
  if (loaded.site) return loaded;
  std::string all = options.dry
                        ? "the configuration cannot be used, and a dry run takes no older copy:"
                        : "the configuration cannot be used, and there is no last good copy:";
  for (const Finding& f : loaded.findings) all += "\n  " + f.told();
  return Error{ErrorCode::bad_input, all};
}

/// The record, or in a dry run a copy of it; state_folder is where it lies.
Outcome Daemon::Impl::open_record(const SiteSettings& site) {
  if (options.dry) {
    auto begun = DryRecord::begin(state_folder);
    if (!begun.ok()) return begun.error();
    dry_record = std::move(*begun);
    state_folder = dry_record->folder();
  }
  const RecordKeep keep{site.keep_readings, site.keep_means, site.keep_decisions};
  auto opened = SqliteRecord::open({state_folder, clock.boot_id(), keep},
                                   [this](auto work) { post(std::move(work)); });
  if (!opened.ok()) return opened.error();
  record = std::move(*opened);
  const auto newest = record->newest();
  if (!newest.ok()) return newest.error();
  if (*newest) clock.raise_floor(**newest);
  return Done{};
}

void Daemon::Impl::make_ports(const SiteSettings& site) {
  HostOptions hosts{options.host, fs::absolute(options.plugins), site_json(site), say};
  hosts.safe_list = safe_list_file(site);
  hosts.limits.memory_mib = static_cast<std::uint32_t>(site.host_memory_mib);
  hosts.limits.cpu_percent = static_cast<std::uint32_t>(site.host_cpu_percent);
  auto outputs = std::make_unique<HostDrivers>(loop, hosts);
  host_drivers = outputs.get();
  drivers = std::move(outputs);
  auto tellers = std::make_unique<HostChannels>(loop, hosts);
  host_channels = tellers.get();
  channels = std::move(tellers);
}

void Daemon::Impl::make_dry_ports() {
  const SayLine say_line = [](const std::string& line) { log::info(line); };
  dry_broker = std::make_unique<DryBroker>(*broker);
  drivers = std::make_unique<DryDrivers>(
      DryDrivers::Hooks{[this](std::function<void()> work) { post(std::move(work)); }, say_line,
                        [this](const OutputId& id) { return warden->why(id); }});
  channels = std::make_unique<DryChannels>(say_line);
}

Outcome Daemon::Impl::start() {
  std::vector<std::string> problems;
  plugins = describe_all(options.plugins, options.host, &problems);
  for (const std::string& problem : problems) log::warning(problem);
  if (plugins.empty()) {
    return Error{ErrorCode::not_found, "no plugin can be used in " + options.plugins.string() +
                                           "; --plugins names their folder, --host the program "
                                           "that loads them"};
  }

  ConfigSource source = ConfigSource::folder;
  auto loaded = first_configuration(source);
  if (!loaded.ok()) return loaded.error();

  if (const Outcome open = open_record(*loaded->site); !open.ok()) return open.error();
  auto past = read_past(*record);
  if (!past.ok()) return past.error();

  const SiteSettings& site = *loaded->site;
  broker = std::make_unique<CurrentBroker>(hooks_on(loop), clock);
  options.dry ? make_dry_ports() : make_ports(site);
  Broker& spoken_to = dry_broker ? static_cast<Broker&>(*dry_broker) : *broker;
  warden = std::make_unique<Warden>(WardenParts{
      clock, spoken_to, *record, *drivers, *channels, [this](Instant at) { wake_at(at); },
      [](const std::string& line) { log::info(line); }, log::lost,
      [this] { return control ? counters_of(control->counters()) : SocketCounters{}; },
      [this] { return sheet ? counts_of(sheet->counters()) : SheetCounts{}; }});

  control = std::make_unique<ControlServer>(
      loop, site.control_socket, [this](const ControlRequest& request, ControlServer::Reply reply) {
        if (options.dry) reply = dry_reply(std::move(reply));
        warden->answer(request.what, request.args_json, request.who, std::move(reply));
      });
  if (const Outcome bound = control->start(); !bound.ok()) return bound.error();
  start_sheet(site);

  drivers->start([this](const OutputReport& report) { warden->output_report(report); });
  channels->start([this](const Delivery& delivery) { warden->channel_report(delivery); });
  give_past(std::move(*past), *warden);
  broker->start({[this](const BrokerMessage& message) { warden->message(message); },
                 [this] { warden->broker_up(); },
                 [this](const std::string& why) { warden->broker_down(why); }});
  adopt(std::move(*loaded), source);

  signals = std::make_unique<SignalWatch>(
      loop, SignalWatch::Handlers{[this](int signal) { stop(signal); }, [this] { reload(); }});
  folder = std::make_unique<FolderWatch>(loop, options.config, [this] { reload(); });
  log::info(fmt::format("tubwardend is up; configuration {}, record {}", options.config.string(),
                        state_folder));
  if (options.dry) {
    log::info(
        "dry run: nothing is switched, published or told, and this record is thrown away at "
        "the end");
  }
  return Done{};
}

/// A sheet that cannot be opened is told in the log and in status; the tubs are kept all the same.
void Daemon::Impl::start_sheet(const SiteSettings& site) {
  sheet_as_read = site.sheet;
  if (!site.sheet) return;
  auto parts = sheet_options(*site.sheet, state_folder);
  if (!parts.ok()) return log::error("there is no sheet: " + parts.error().text);
  sheet = std::make_unique<SheetServer>(
      loop, clock, std::move(*parts),
      [this](const std::string& what, const std::string& args, const std::string& who,
             SheetServer::Reply reply) {
        if (options.dry) reply = dry_reply(std::move(reply));
        warden->answer(what, args, who, std::move(reply));
      },
      [](const std::string& line) { log::info(line); });
  if (const Outcome started = sheet->start(); !started.ok()) {
    log::error("there is no sheet: " + started.error().text);
  }
}

void Daemon::Impl::adopt(Loaded loaded, ConfigSource source) {
  const bool whole = !loaded.has_errors();
  if (loaded.site && connected_to != loaded.site->broker) {
    connected_to = loaded.site->broker;
    BrokerLink link = link_of(*loaded.site);
    if (options.dry) link.will_topic.clear();
    broker->connect(std::move(link));
    if (host_drivers) host_drivers->site(site_json(*loaded.site));
    if (host_channels) host_channels->site(site_json(*loaded.site));
  }
  if (loaded.site && loaded.site->sheet != sheet_as_read) {
    sheet_as_read = loaded.site->sheet;
    log::warning(
        "sheet: of tubwarden.yaml has changed; it is read at a start: systemctl restart "
        "tubwarden");
  }
  if (options.dry && loaded.site) loaded.site->record_folder = state_folder;
  warden->adopt(std::move(loaded), source, options.config.string());
  if (!whole || source != ConfigSource::folder || options.dry) return;
  if (const Outcome kept = keep_last_good(options.config, state_folder); !kept.ok()) {
    log::warning(kept.error().text);
  }
}

void Daemon::Impl::reload() {
  if (stopping) return;
  service::notify_reloading();
  adopt(load_folder(options.config, plugins), ConfigSource::folder);
  service::notify_ready();
}

void Daemon::Impl::stop(int signal) {
  if (stopping) return;
  stopping = true;
  log::info(fmt::format("signal {}: making all outputs safe, then ending", signal));
  service::notify_stopping();
  folder.reset();
  control->stop();
  if (sheet) sheet->stop();
  timer.cancel();
  warden->stop();
  const auto leave = [this] {
    broker->leave();
    record->close();
    loop.stop();
  };
  drivers->stop([this, leave] { host_channels ? host_channels->stop(leave) : leave(); });
  hooks_on(loop).later(kStopWithin, [this] { loop.stop(); });
}

Daemon::Daemon(DaemonOptions options) : impl_(std::make_unique<Impl>(std::move(options))) {}
Daemon::~Daemon() = default;
Outcome Daemon::start() { return impl_->start(); }
void Daemon::run() {
  service::notify_ready();
  impl_->loop.run();
}

}  // namespace tubwarden
