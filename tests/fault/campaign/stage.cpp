#include "fault/campaign/stage.hpp"

#include <fmt/format.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/post.hpp>
#include <fstream>
#include <numeric>
#include <sstream>

#include "sdk/pidfd.hpp"
#include "system/hosts/bench.hpp"

namespace tubwarden::campaign {

namespace {

using bench::kHost;
using namespace std::chrono_literals;
namespace fs = std::filesystem;

constexpr const char* kTopic = "campaign/relay";
constexpr milliseconds kOverMax{15000};

std::int64_t now_ns() {
  timespec t{};
  ::clock_gettime(CLOCK_BOOTTIME, &t);
  return t.tv_sec * 1'000'000'000LL + t.tv_nsec;
}

/// Processes with `word` in their command line: hosts by their plugin's path.
std::vector<int> processes_with(const std::string& word) {
  std::vector<int> found;
  std::error_code gone;
  for (const fs::directory_entry& entry : fs::directory_iterator("/proc", gone)) {
    const std::string name = entry.path().filename();
    if (name.find_first_not_of("0123456789") != std::string::npos) continue;
    std::ifstream file(entry.path() / "cmdline");  // one that has just ended has none
    std::stringstream line;
    line << file.rdbuf();
    if (line.str().find(word) != std::string::npos) found.push_back(std::stoi(name));
  }
  return found;
}

}  // namespace

/// One scene.
class Stage::Play {
 public:
  Play(Stage& stage, const Scene& scene);
  ~Play();
  Played run();

 private:
  struct Stopped {
    int pidfd = -1;
    std::size_t did = 0;  ///< in played_.done
    std::int64_t until_ns = 0;
    bool daemon = false;
  };

  fs::path file(const std::string& id) const { return folder_.path() / id; }
  void order(const std::string& line) { orders_ << line << std::endl; }
  bool printed(const std::string& line) {
    return parts::wait_until([&] { return daemon_->out().find(line) != std::string::npos; }, 10s);
  }
  void wait_until_ns(std::int64_t ns);
  void continue_those_due(std::int64_t ns);
  void take(const Step& step);
  void signal_host(const Step& step);
  int host_of(const std::string& id);
  std::vector<std::string> beside(const std::string& id) const;
  std::vector<std::string> everyone() const;
  Did& note(Act act, std::vector<std::string> outputs, milliseconds length = {});
  void stop(int pid, const Step& step, std::vector<std::string> outputs);
  void end(const Step& step);
  void kill_all();
  void stop_post();
  void read_wires();
  bool all_rest();

  Stage& stage_;
  const Scene& scene_;
  parts::TempFolder folder_;
  std::unique_ptr<parts::Process> daemon_;
  std::ofstream orders_;
  std::vector<Stopped> stopped_;
  bool daemon_stopped_ = false;
  std::int64_t boot_minus_steady_ns_ = 0;
  Played played_;
};

Stage::Play::Play(Stage& stage, const Scene& scene) : stage_(stage), scene_(scene) {
  const auto steady = parts::Steady::now().time_since_epoch();
  boot_minus_steady_ns_ = now_ns() - std::chrono::nanoseconds(steady).count();
  stage_.relay_.clear();
  fs::create_directory(file("plugins"));
  for (const Output& output : scene.outputs) {
    const bool ships = output.driver == "simulated" || output.is_relay();
    const fs::path link = file("plugins") / (output.driver + ".so");
    if (fs::exists(link)) continue;
    fs::create_symlink((ships ? bench::kPlugins : bench::kFaulty) + "/" + output.driver + ".so",
                       link);
  }
  if (::mkfifo(file("orders").c_str(), 0600) != 0) throw std::runtime_error("no fifo");
  daemon_ = std::make_unique<parts::Process>(
      std::vector<std::string>{SUPERVISOR, file("orders"), kHost, file("plugins"),
                               bench::site(stage.gate_->url()), file("outputs.list")});
  orders_.open(file("orders"));
  for (const Output& output : scene.outputs) {
    const std::string wiring =
        output.is_relay() ? fmt::format(R"({{"topic":"{}","run":"RUN","rest":"0"}})", kTopic)
                          : bench::file_wiring(file(output.id));
    order(fmt::format("output tub {} {} 0 {} {} {}", output.id, output.driver, output.lease.count(),
                      output.own ? 1 : 0, wiring));
  }
  order("want");
  for (const Output& output : scene.outputs) {
    if (printed("report tub/" + output.id + " ready")) continue;
    throw std::runtime_error(output.id + " is not ready:\n" + daemon_->out() + daemon_->err());
  }
}

Stage::Play::~Play() {
  for (const Stopped& s : stopped_) ::close(s.pidfd);
  for (const int pid : processes_with(folder_.path())) {
    if (pid != ::getpid()) ::kill(pid, SIGKILL);
  }
}

std::vector<std::string> Stage::Play::beside(const std::string& id) const {
  const auto own = std::find_if(scene_.outputs.begin(), scene_.outputs.end(),
                                [&](const Output& o) { return o.id == id; });
  std::vector<std::string> found;
  for (const Output& o : scene_.outputs) {
    if (o.id == id || (!own->own && !o.own && o.driver == own->driver)) found.push_back(o.id);
  }
  return found;
}

std::vector<std::string> Stage::Play::everyone() const {
  std::vector<std::string> found;
  for (const Output& o : scene_.outputs) found.push_back(o.id);
  return found;
}

Did& Stage::Play::note(Act act, std::vector<std::string> outputs, milliseconds length) {
  const std::int64_t now = now_ns();
  played_.done.push_back({act, std::move(outputs), now, now, length});
  return played_.done.back();
}

void Stage::Play::continue_those_due(std::int64_t ns) {
  for (const Stopped& s : stopped_) {
    if (s.until_ns > ns) continue;
    ::syscall(SYS_pidfd_send_signal, s.pidfd, SIGCONT, nullptr, 0);
    ::close(s.pidfd);
    played_.done[s.did].until_ns = now_ns();
    if (s.daemon) daemon_stopped_ = false;
  }
  std::erase_if(stopped_, [ns](const Stopped& s) { return s.until_ns <= ns; });
}

void Stage::Play::wait_until_ns(std::int64_t ns) {
  parts::wait_until(
      [&] {
        continue_those_due(now_ns());
        return now_ns() >= ns;
      },
      60s);
}

int Stage::Play::host_of(const std::string& id) {
  const auto told = [&] {
    int lines = 0, pid = 0;
    std::istringstream out(daemon_->out());
    for (std::string line; std::getline(out, line);) {
      if (!line.starts_with("host tub/" + id + " ")) continue;
      ++lines;
      pid = std::stoi(line.substr(line.rfind(' ')));
    }
    return std::pair(lines, pid);
  };
  const int before = told().first;
  order("hosts");
  if (!parts::wait_until([&] { return told().first > before; }, 10s)) {
    played_.wrong.push_back("the daemon does not answer");
    return 0;
  }
  return told().second;
}

void Stage::Play::stop(int pid, const Step& step, std::vector<std::string> outputs) {
  const int pidfd = open_pidfd(pid);
  if (pidfd < 0) return;
  note(step.act, std::move(outputs), step.length);
  ::kill(pid, SIGSTOP);
  const std::int64_t until = now_ns() + std::chrono::nanoseconds(step.length).count();
  played_.done.back().until_ns = until;
  stopped_.push_back({pidfd, played_.done.size() - 1, until, step.act == Act::stop_daemon});
}

void Stage::Play::signal_host(const Step& step) {
  const int pid = host_of(step.output);
  if (pid <= 0) return;
  if (step.act == Act::stop_host) return stop(pid, step, beside(step.output));
  note(step.act, beside(step.output));
  ::kill(pid, SIGKILL);
}

void Stage::Play::take(const Step& step) {
  switch (step.act) {
    case Act::run:
    case Act::rest:
      if (daemon_stopped_) return;  // it would hear it much later
      note(step.act, {step.output}, step.length);
      return order(fmt::format("command tub {} {} {}", step.output, step.act == Act::run ? 1000 : 0,
                               step.length.count()));
    case Act::kill_host:
    case Act::stop_host:
      if (!daemon_stopped_) signal_host(step);
      return;
    case Act::stop_daemon:
      if (daemon_stopped_) return;
      daemon_stopped_ = true;
      return stop(daemon_->pid(), step, everyone());
    case Act::cut_broker:
      note(step.act, {"relay"});
      return boost::asio::post(stage_.loop_, [this] { stage_.gate_->cut(); });
    case Act::kill_daemon:
    case Act::kill_all:
    case Act::end:
      return end(step);
  }
}

void Stage::Play::kill_all() {
  std::vector<int> all = daemon_->children("tubwarden-plugin-host");
  all.push_back(daemon_->pid());
  for (const int pid : all) ::kill(pid, SIGSTOP);
  for (const int pid : all) ::kill(pid, SIGKILL);
  daemon_->wait(10s);
  stop_post();
}

/// As the service's unit does whenever the daemon has ended.
void Stage::Play::stop_post() {
  const parts::Ran step = parts::run({kHost, "--make-safe", file("outputs.list")});
  if (step.status != 0) played_.wrong.push_back("the stop-post step: " + step.err);
}

void Stage::Play::end(const Step& step) {
  if (step.act == Act::end) {
    wait_until_ns(std::accumulate(
        stopped_.begin(), stopped_.end(), std::int64_t{0},
        [](std::int64_t latest, const Stopped& s) { return std::max(latest, s.until_ns); }));
    note(step.act, everyone());
    order("stop");
    const auto status = daemon_->wait(kOverMax);
    if (status != 0) played_.wrong.push_back("the daemon does not end: " + daemon_->err());
  } else if (step.act == Act::kill_daemon) {
    note(step.act, everyone());
    daemon_->signal(SIGKILL);
    daemon_->wait(10s);
    // The hosts end by themselves; whose host lay dead at the time is left to the stop-post step.
    parts::wait_until(
        [&] {
          continue_those_due(now_ns());
          return processes_with(file("plugins")).empty();
        },
        kOverMax);
    stop_post();
  } else {
    const std::size_t did = played_.done.size();
    note(step.act, everyone());
    kill_all();
    played_.done[did].until_ns = now_ns();
  }
}

void Stage::Play::read_wires() {
  played_.wire.clear();
  for (const Output& output : scene_.outputs) {
    std::vector<Change>& wire = played_.wire[output.id];
    if (output.is_relay()) {
      for (const parts::Heard& heard : stage_.relay_.heard(kTopic)) {
        const std::chrono::nanoseconds at = heard.at.time_since_epoch();
        wire.push_back({at.count() + boot_minus_steady_ns_, heard.payload == "RUN"});
      }
    } else if (output.driver == "simulated") {
      for (const bench::Line& line : bench::simulated_lines(file(output.id))) {
        wire.push_back({line.ns, line.level != kRest});
      }
    } else {
      for (const bench::Line& line : bench::faulty_lines(file(output.id))) {
        if (line.call == "apply" || line.call == "safe") wire.push_back({line.ns, line.level != 0});
      }
    }
  }
}

bool Stage::Play::all_rest() {
  read_wires();
  return std::all_of(played_.wire.begin(), played_.wire.end(), [](const auto& entry) {
    return !entry.second.empty() && !entry.second.back().runs;
  });
}

Played Stage::Play::run() {
  const std::int64_t began = now_ns();
  for (const Step& step : scene_.steps) {
    wait_until_ns(began + std::chrono::nanoseconds(step.at).count());
    if (step.at < scene_.steps.back().at && daemon_->wait(0ms)) {
      played_.wrong.push_back("the daemon has ended by itself: " + daemon_->err());
      break;
    }
    take(step);
  }
  const auto over = [&] {
    continue_those_due(now_ns());
    return stopped_.empty() && daemon_->wait(0ms) && processes_with(file("plugins")).empty() &&
           all_rest();
  };
  if (!parts::wait_until(over, kOverMax)) {
    for (const int pid : processes_with(file("plugins"))) {
      played_.wrong.push_back(fmt::format("process {} is left", pid));
    }
  }
  played_.over_ns = now_ns();
  read_wires();
  return std::move(played_);
}

Stage::Stage() : relay_(broker_.url(), {kTopic}), work_(boost::asio::make_work_guard(loop_)) {
  gate_ = std::make_unique<Gate>(loop_, broker_.port());
  turning_ = std::thread([this] { loop_.run(); });
}

Stage::~Stage() {
  boost::asio::post(loop_, [this] { gate_.reset(); });
  work_.reset();
  turning_.join();
}

Played Stage::play(const Scene& scene) { return Play(*this, scene).run(); }

}  // namespace tubwarden::campaign
