// The program itself against a control socket whose answers the test chooses.
#include <gmock/gmock.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <nlohmann/json.hpp>
#include <thread>

#include "samples.hpp"
#include "shell/control/control_server.hpp"

namespace {

using namespace std::chrono_literals;
using cli_test::sample;
using nlohmann::json;
using ::testing::AllOf;
using ::testing::EndsWith;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

const std::string kProgram = std::string(TUBWARDEN_BIN_DIR) + "/tubwarden";

/// Answers status from the sample, refuses release, and repeats everything else.
class Daemon {
 public:
  Daemon()
      : socket((folder_.path() / "control.sock").string()),
        server_(loop_, socket,
                [this](const tubwarden::ControlRequest& request,
                       tubwarden::ControlServer::Reply reply) { answer(request, reply); }) {
    const auto started = server_.start();
    EXPECT_TRUE(started.ok());
    thread_ = std::thread([this] { loop_.run(); });
  }
  ~Daemon() {
    boost::asio::post(loop_, [this] {
      server_.stop();
      work_.reset();
    });
    thread_.join();
  }
  int asked() const { return asked_; }

 private:
  void answer(const tubwarden::ControlRequest& request,
              const tubwarden::ControlServer::Reply& reply) {
    ++asked_;
    if (request.what == "status") return reply(sample("status.json"));
    if (request.what == "batch") return reply(sample("batch.json"));
    if (request.what == "release") {
      return reply(tubwarden::Error{tubwarden::ErrorCode::refused, "mat has not failed safe"});
    }
    const json told = {{"text", request.what + " " + request.args_json}, {"entry", 7}};
    reply(told.dump());
  }

  parts::TempFolder folder_;
  boost::asio::io_context loop_;
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> work_{
      loop_.get_executor()};
  std::atomic<int> asked_ = 0;

 public:
  const std::string socket;

 private:
  tubwarden::ControlServer server_;
  std::thread thread_;
};

parts::Ran tubwarden_of(const std::string& socket, std::vector<std::string> words) {
  std::vector<std::string> argv = {kProgram, "--socket", socket};
  argv.insert(argv.end(), words.begin(), words.end());
  return parts::run(argv);
}

TEST(Program, AnswersGoToStdoutAndErrorsToStderr) {
  Daemon daemon;
  const parts::Ran page = tubwarden_of(daemon.socket, {"status"});
  EXPECT_EQ(page.status, 0);
  EXPECT_THAT(page.out, AllOf(StartsWith("cellar  "), HasSubstr("tub-1  fruiting, day 3"),
                              Not(HasSubstr("\x1b"))));
  EXPECT_EQ(page.err, "");

  const parts::Ran no = tubwarden_of(daemon.socket, {"outputs", "release", "tub-1", "mat"});
  EXPECT_EQ(no.status, 1);
  EXPECT_EQ(no.out, "");
  EXPECT_EQ(no.err, "tubwarden: mat has not failed safe\n");

  const parts::Ran noted = tubwarden_of(daemon.socket, {"note", "tub-1", "first", "pins"});
  EXPECT_EQ(noted.status, 0);
  EXPECT_EQ(noted.out, "note {\"tub\":\"tub-1\",\"text\":\"first pins\"} (entry 7)\n");
}

TEST(Program, JsonIsTheAnswerAsItCame) {
  Daemon daemon;
  const parts::Ran ran = tubwarden_of(daemon.socket, {"status", "--json"});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(json::parse(ran.out), json::parse(sample("status.json")));
  EXPECT_THAT(ran.out, StartsWith("{\n  \"site\": \"cellar\",\n"));
}

TEST(Program, TheSocketIsNamedByTheEnvironmentToo) {
  Daemon daemon;
  parts::Process process({kProgram, "batch", "show", "B-07"},
                         {{"TUBWARDEN_SOCKET=" + daemon.socket, "TZ=CET-1"}, false});
  EXPECT_EQ(process.wait(10s), 0);
  EXPECT_THAT(process.out(), HasSubstr("31  08:10:44  file"));
}

TEST(Program, WithoutADaemonItSaysWhatToDo) {
  const parts::Ran ran = tubwarden_of("/nowhere/control.sock", {"status"});
  EXPECT_EQ(ran.status, 1);
  EXPECT_EQ(ran.out, "");
  EXPECT_THAT(ran.err, AllOf(StartsWith("tubwarden: no daemon answers at /nowhere/control.sock"),
                             HasSubstr("Start tubwardend")));
  EXPECT_EQ(tubwarden_of("/nowhere/control.sock", {"status", "--watch"}).status, 1);
}

TEST(Program, WrongWordsAreTwo) {
  const parts::Ran ran = parts::run({kProgram, "statsu"});
  EXPECT_EQ(ran.status, 2);
  EXPECT_EQ(ran.out, "");
  EXPECT_THAT(ran.err, HasSubstr("the nearest is 'status'"));
  const parts::Ran help = parts::run({kProgram, "phase", "--help"});
  EXPECT_EQ(help.status, 0);
  EXPECT_THAT(help.out, HasSubstr("Example:\n  tubwarden phase tub-1 casing"));
  EXPECT_EQ(help.err, "");
}

TEST(Program, AnAnswerThatCannotBeWrittenIsAFailure) {
  Daemon daemon;
  const parts::Ran ran = parts::run(
      {"sh", "-c", "exec " + kProgram + " --socket " + daemon.socket + " status > /dev/full"});
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr("could not be written: No space left on device"));
}

TEST(Program, WatchRepeatsWhereThereIsNoTerminal) {
  Daemon daemon;
  parts::Process process({kProgram, "--socket", daemon.socket, "status", "--watch"});
  ASSERT_TRUE(parts::wait_until([&] { return daemon.asked() >= 2; }, 10s));
  ASSERT_TRUE(parts::wait_until(
      [&] { return process.out().find("\n\ncellar") != std::string::npos; }, 10s));
  process.signal(SIGINT);
  EXPECT_EQ(process.wait(5s), 0);
  EXPECT_THAT(process.out(), AllOf(StartsWith("cellar"), Not(HasSubstr("\x1b"))));
}

/// The program in a terminal of its own.
class Typed {
 public:
  Typed(std::vector<std::string> argv, std::vector<std::string> environment, winsize size) {
    pid_ = ::forkpty(&fd_, nullptr, nullptr, &size);
    if (pid_ == 0) {
      for (const std::string& pair : environment) ::putenv(const_cast<char*>(pair.c_str()));
      std::vector<char*> args;
      for (std::string& arg : argv) args.push_back(arg.data());
      args.push_back(nullptr);
      ::execv(args[0], args.data());
      ::_exit(127);
    }
  }
  ~Typed() {
    if (pid_ > 0) {
      ::kill(pid_, SIGKILL);
      ::waitpid(pid_, nullptr, 0);
    }
    ::close(fd_);
  }
  Typed(const Typed&) = delete;
  Typed& operator=(const Typed&) = delete;

  void type(const std::string& keys) const {
    EXPECT_EQ(::write(fd_, keys.data(), keys.size()), static_cast<ssize_t>(keys.size()));
  }
  void resize(winsize size) const { ::ioctl(fd_, TIOCSWINSZ, &size); }
  /// Reads on until `words` are on the screen's tape.
  bool shows(const std::string& words) {
    const auto end = parts::Steady::now() + 10s;
    while (tape_.find(words) == std::string::npos) {
      pollfd readable{fd_, POLLIN, 0};
      if (parts::Steady::now() > end || ::poll(&readable, 1, 1000) < 0) return false;
      char bytes[4096];
      const ssize_t n = (readable.revents & (POLLIN | POLLHUP)) ? ::read(fd_, bytes, 4096) : 0;
      if (n < 0) return false;
      tape_.append(bytes, static_cast<std::size_t>(n));
    }
    return true;
  }
  int end() {
    while (shows("never on the tape")) {
    }
    int status = 0;
    ::waitpid(pid_, &status, 0);
    pid_ = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }
  const std::string& tape() const { return tape_; }
  void forget() { tape_.clear(); }

 private:
  int fd_ = -1;
  pid_t pid_ = 0;
  std::string tape_;
};

TEST(Program, ColourIsForATerminalThatDoesNotSayNo) {
  Daemon daemon;
  const std::vector<std::string> argv = {kProgram, "--socket", daemon.socket, "status"};
  struct Row {
    std::string variable;
    bool colour;
  };
  for (const Row& row : {Row{"TERM=screen", true}, Row{"NO_COLOR=1", false}, Row{"NO_COLOR=", true},
                         Row{"TERM=dumb", false}}) {
    Typed typed(argv, {"TERM=xterm", "NO_COLOR=", row.variable}, {40, 100, 0, 0});
    EXPECT_EQ(typed.end(), 0);
    EXPECT_EQ(typed.tape().find("\x1b[") != std::string::npos, row.colour) << row.variable;
  }
}

TEST(Program, WithoutUtf8ThePageIsAscii) {
  Daemon daemon;
  const std::vector<std::string> argv = {kProgram, "--socket", daemon.socket, "status"};
  Typed typed(argv, {"LC_ALL=C"}, {40, 100, 0, 0});
  EXPECT_EQ(typed.end(), 0);
  for (const char c : typed.tape()) EXPECT_LT(static_cast<unsigned char>(c), 0x80);
}

TEST(Program, WatchDrawsOverItselfAndGivesTheTerminalBack) {
  Daemon daemon;
  Typed typed({kProgram, "--socket", daemon.socket, "status", "--watch"},
              {"TERM=xterm", "LC_ALL=C.UTF-8"}, {12, 90, 0, 0});
  ASSERT_TRUE(typed.shows("more lines in a taller window")) << "12 rows do not hold the page";
  EXPECT_THAT(typed.tape(), StartsWith("\x1b[?1049h\x1b[?25l\x1b[H"));
  EXPECT_THAT(typed.tape(), Not(HasSubstr("tub-1  fruiting")));
  typed.forget();
  typed.resize({60, 120, 0, 0});
  ASSERT_TRUE(typed.shows("3 restarts\x1b[0m\x1b[K\x1b[J")) << "redrawn for the new window";
  EXPECT_THAT(typed.tape(), HasSubstr("tub-1\x1b[0m  fruiting, day 3"));
  typed.type("\x03");
  EXPECT_EQ(typed.end(), 0);
  const auto back = typed.tape().rfind("\x1b[?25h\x1b[?1049l");
  ASSERT_NE(back, std::string::npos);
  EXPECT_THAT(typed.tape().substr(back), HasSubstr("fruiting, day 3")) << "the last page stays";
}

constexpr const char* kSite =
    "site: shed\nbroker: {url: \"mqtt://127.0.0.1:1883\"}\nroom: {temperature: 15 C, humidity: 50 "
    "%}\n";
constexpr const char* kProfile =
    "profile: button\nphases:\n  - phase: fruiting\n    humidity: {keep: [85 %, 90 %]}\n"
    "  - phase: empty\n";

std::string tub_text(const std::string& phase) {
  return "tub: tub-1\nbatch: B-07\nprofile: button\nphase: " + phase +
         "\nsubstrate: 5 kg\nair:\n  net_volume: 40 L\n  sensors:\n    - {id: air, topic: s/air, "
         "humidity: {at: /rh}, stale_after: 2m}\n  actuators:\n    - {id: mister, effect: "
         "humidify, "
         "rate: 40 g/h, driver: mqtt_relay, wiring: {topic: s/mister, run: \"1\", rest: \"0\"}, "
         "safe: rest, falls_by_itself_after: 10s}\n";
}

parts::Ran check(const parts::TempFolder& folder, std::vector<std::string> more = {}) {
  std::vector<std::string> argv = {kProgram, "check", folder.path().string(), "--plugins",
                                   TUBWARDEN_PLUGIN_DIR};
  argv.insert(argv.end(), more.begin(), more.end());
  return parts::run(argv);
}

TEST(Program, CheckNeedsNoDaemonAndTellsFileLineAndColumn) {
  parts::TempFolder folder;
  folder.write("tubwarden.yaml", kSite);
  folder.write("profiles/button.yaml", kProfile);
  folder.write("tubs/tub-1.yaml", tub_text("fruiting"));
  const parts::Ran good = check(folder);
  EXPECT_EQ(good.status, 0) << good.out << good.err;
  EXPECT_THAT(good.out, HasSubstr("no errors"));

  folder.write("tubs/tub-1.yaml", tub_text("fruitng"));
  const parts::Ran bad = check(folder);
  EXPECT_EQ(bad.status, 1);
  EXPECT_THAT(bad.out, AllOf(HasSubstr("tubs/tub-1.yaml:4:8: "), HasSubstr("1 error")));

  const parts::Ran told = check(folder, {"--json"});
  EXPECT_EQ(told.status, 1);
  const json report = json::parse(told.out);
  EXPECT_FALSE(report["whole"].get<bool>());
  EXPECT_EQ(report["findings"][0]["line"], 4);
  EXPECT_EQ(report["findings"][0]["column"], 8);
  EXPECT_EQ(report["broken_tubs"], json::array({"tub-1"}));
}

TEST(Program, CheckSaysWhatFitsAfterTheFindingsAndStaysZero) {
  parts::TempFolder folder;
  folder.write("tubwarden.yaml", kSite);
  folder.write("profiles/button.yaml", kProfile);
  std::string text = tub_text("fruiting");
  text.replace(text.find("{at: /rh}"), 9, "{at: /rh, accuracy: 6 %}");
  folder.write("tubs/tub-1.yaml", text);
  const parts::Ran ran = check(folder);
  EXPECT_EQ(ran.status, 0) << "what cannot work is no error of the folder";
  EXPECT_THAT(ran.out, HasSubstr(" in 3 files\n\nfit of tub-1\n  cannot work  fruiting: Sensor air "
                                 "knows humidity to +- 6 %, and the band\n"));

  const parts::Ran told = check(folder, {"--json"});
  EXPECT_EQ(told.status, 0);
  const json first = json::parse(told.out)["fit"][0];
  EXPECT_EQ(first["tub"], "tub-1");
  EXPECT_EQ(first["mark"], "cannot work");
  EXPECT_EQ(first["about"], "sensor");
  EXPECT_EQ(first["phases"], json::array({"fruiting"}));
  EXPECT_THAT(first["text"].get<std::string>(), HasSubstr("What works: a band at least 12 % wide"));
}

TEST(Program, CheckKnowsTheWiringOfEachPlugin) {
  parts::TempFolder folder;
  folder.write("tubwarden.yaml", kSite);
  folder.write("profiles/button.yaml", kProfile);
  std::string text = tub_text("fruiting");
  text.replace(text.find("wiring: {topic"), 14, "wiring: {topik");
  folder.write("tubs/tub-1.yaml", text);
  const parts::Ran bad = check(folder);
  EXPECT_EQ(bad.status, 1);
  EXPECT_THAT(bad.out, AllOf(HasSubstr("topik"), HasSubstr("topic")));
}

TEST(Program, CheckOfNoFolderSaysSo) {
  const parts::Ran ran = parts::run({kProgram, "check", "/nowhere"});
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.out, HasSubstr("there is no such folder"));
}

}  // namespace
