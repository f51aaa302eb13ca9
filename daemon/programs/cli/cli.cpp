#include "programs/cli/cli.hpp"

#include <fmt/format.h>
#include <langinfo.h>
#include <unistd.h>

#include <algorithm>
#include <clocale>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <filesystem>
#include <iostream>

#include "programs/cli/check.hpp"
#include "programs/cli/drill.hpp"
#include "programs/cli/fit.hpp"
#include "programs/cli/init.hpp"
#include "programs/cli/kitchen.hpp"
#include "programs/cli/kitchen_probe.hpp"
#include "programs/cli/listen.hpp"
#include "programs/cli/paper.hpp"
#include "programs/cli/record_copy.hpp"
#include "programs/cli/rehearse.hpp"
#include "programs/cli/report.hpp"
#include "programs/cli/salts.hpp"
#include "programs/cli/sheet_token.hpp"
#include "programs/cli/tell_history.hpp"
#include "programs/cli/try_output.hpp"
#include "programs/cli/watch.hpp"
#include "programs/cli/words.hpp"
#include "shell/control/control_client.hpp"

namespace tubwarden::cli {
namespace {

namespace fs = std::filesystem;

/// Ctrl-C waits no longer than this for an answer.
constexpr Duration kWatchedWithin = seconds(2);
constexpr const char* kSocket = "/run/tubwarden/control.sock";

Duration east_of_utc(WallTime at) {
  const std::time_t t = duration_cast<seconds>(at.time_since_epoch()).count();
  std::tm local{};
  return ::localtime_r(&t, &local) ? Duration(seconds(local.tm_gmtoff)) : Duration{0};
}

Look look_now(int width) {
  Look look;
  look.width = width;
  const char* no_colour = std::getenv("NO_COLOR");
  const char* kind = std::getenv("TERM");
  const bool plain = (no_colour && *no_colour) || (kind && std::strcmp(kind, "dumb") == 0);
  look.colour = ::isatty(STDOUT_FILENO) == 1 && !plain;
  look.utf8 = std::strcmp(::nl_langinfo(CODESET), "UTF-8") == 0;
  look.east_of_utc = east_of_utc;
  return look;
}

Defaults defaults_of(const std::string& folder) {
  const char* named = std::getenv("TUBWARDEN_SOCKET");
  const fs::path here = folder;
  // Built beside the programs' folder, or installed below lib.
  const fs::path built = here / "../plugins";
  return {
      named && *named ? named : kSocket,
      fs::exists(built) ? built : here / "../lib/tubwarden/plugins", here / "tubwarden-plugin-host",
      WallTime(duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch())),
      east_of_utc};
}

int failed(const Error& error) {
  std::fprintf(stderr, "tubwarden: %s\n", error.text.c_str());
  return 1;
}

void note(const std::string& text) { std::fprintf(stderr, "tubwarden: %s\n", text.c_str()); }

int print(const std::string& text) {
  std::fputs(text.c_str(), stdout);
  if (std::fflush(stdout) == 0) return 0;
  return failed({ErrorCode::unavailable,
                 std::string("the answer could not be written: ") + std::strerror(errno)});
}

/// One line on a terminal's standard error that stands while something goes on, and is wiped.
class StandingLine {
 public:
  explicit StandingLine(bool wanted = true) : on_(wanted && ::isatty(STDERR_FILENO) == 1) {}
  void show(const std::string& line) const {
    if (!on_) return;
    const auto room = static_cast<std::size_t>(terminal_now().width - 1);
    std::fprintf(stderr, "\r\x1b[K%s", cut(line, room).c_str());
    std::fflush(stderr);
  }
  void wipe() const {
    if (on_) std::fputs("\r\x1b[K", stderr);
  }

 private:
  bool on_;
};

Shown answered(const Command& command, const Ask& ask, Duration within, int width) {
  const auto answer = ask_daemon(command.socket, ask.what, ask.args_json, within);
  if (!answer.ok()) return answer.error();
  return command.json ? show_raw(*answer) : ask.show(*answer, look_now(width));
}

int perform(const Command& command, const Ask& ask) {
  if (ask.watch) {
    const Outcome end =
        watch([&](int width) { return answered(command, ask, kWatchedWithin, width); });
    return end.ok() ? 0 : failed(end.error());
  }
  const Shown page = answered(command, ask, kAnswerWithin, terminal_now().width);
  return page.ok() ? print(*page) : failed(page.error());
}

int perform(const Command& command, const TryOutput& wanted) {
  const StandingLine standing(!command.json);
  const auto told = [&](const std::string& line) { standing.show(line); };
  const auto verdict = try_output(wanted, command.socket, told);
  standing.wipe();
  if (!verdict.ok()) return failed(verdict.error());
  const int printed = print(command.json ? verdict->json + "\n"
                                         : try_page(*verdict, look_now(terminal_now().width)));
  return verdict->good ? printed : 1;
}

/// A line from standard input; nothing at its end.
std::optional<std::string> line_of_stdin(const std::string& prompt, FILE* to) {
  std::fprintf(to, "%s", prompt.c_str());
  std::fflush(to);
  std::string line;
  return std::getline(std::cin, line) ? std::optional(line) : std::nullopt;
}

Person person_at_the_terminal(bool nobody, FILE* to) {
  Person person;
  person.tell = [to](const std::string& line) {
    const Look look = look_now(terminal_now().width);
    const std::size_t indent = line.find_first_not_of(" \n");
    std::fputs(beside(line.substr(0, indent), line.substr(indent), Ink::plain, look).c_str(), to);
    std::fflush(to);
  };
  person.go_on = [=](const std::string& prompt) {
    return nobody || line_of_stdin(prompt + " ", to).has_value();
  };
  person.is_it = [=](const std::string& question) -> std::optional<bool> {
    while (!nobody) {
      const auto answer = line_of_stdin(question, to);
      if (!answer) break;
      if (*answer == "y" || *answer == "n") return *answer == "y";
    }
    return std::nullopt;
  };
  return person;
}

int perform(const Command& command, const Drill& wanted) {
  const Person person = person_at_the_terminal(wanted.yes, command.json ? stderr : stdout);
  const auto seen = drill(wanted, command.socket, person);
  if (!seen.ok()) return failed(seen.error());
  const bool held = std::any_of(seen->begin(), seen->end(),
                                [](const CutSeen& s) { return s.fall == Fall::held; });
  const int printed = command.json ? print(drill_json(*seen)) : 0;
  return held ? 1 : printed;
}

int perform(const Command& command, const CheckFolder& wanted) {
  const Checked checked = check_folder(wanted, command.json);
  for (const std::string& problem : checked.problems) {
    std::fprintf(stderr, "tubwarden: %s\n", problem.c_str());
  }
  const int printed = print(checked.report);
  return checked.whole ? printed : 1;
}

/// Answers that are no answers are wrong words.
int perform(const Command& command, const InitFolder& wanted) {
  const bool asks = !wanted.yes && !command.json;
  if (asks && ::isatty(STDIN_FILENO) != 1) {
    std::fputs(
        "tubwarden init asks on a terminal, and this is none; give --yes, and what differs "
        "from its defaults; see: tubwarden init --help\n",
        stderr);
    return 2;
  }
  const Look look = look_now(terminal_now().width);
  const Asked person = {[](const std::string& text) { std::fputs(text.c_str(), stdout); },
                        [](const std::string& prompt) { return line_of_stdin(prompt, stdout); }};
  const auto done = init_folder(wanted, wanted.socket_given ? command.socket : "",
                                command.usual_socket, asks ? &person : nullptr, look);
  if (!done.ok()) {
    failed(done.error());
    return done.error().code == ErrorCode::bad_input ? 2 : 1;
  }
  for (const std::string& problem : done->problems) note(problem);
  return print(command.json ? init_json(*done) : init_page(*done, look));
}

int perform(const Command& command, const Listen& wanted) {
  const StandingLine standing(!command.json);
  const auto tick = [&](const ListenBook& book, Duration left) {
    standing.show(still_listening(book, left));
  };
  const auto heard = overhear(wanted, tick);
  standing.wipe();
  if (!heard.ok()) return failed(heard.error());
  return print(command.json ? overheard_json(*heard, wanted)
                            : show_overheard(*heard, wanted, look_now(terminal_now().width)));
}

int perform(const Command& command, const HistoryWish& wanted) {
  const AskDaemon ask = [&](const std::string& what, const std::string& args) {
    return ask_daemon(command.socket, what, args, kAnswerWithin);
  };
  return tell_history({ask, print, failed, note}, wanted, command.json,
                      look_now(terminal_now().width));
}

int fit(const Command& command, const Rehearse& wanted) {
  const StandingLine standing;
  const auto told = [&](const std::string& air) { standing.show("fitting " + air + " ..."); };
  const AskDaemon ask = [&](const std::string& what, const std::string& args) {
    return ask_daemon(command.socket, what, args, kAnswerWithin);
  };
  std::vector<std::string> problems;
  const auto fitted = fit_folder(wanted, ask, east_of_utc, told, problems);
  standing.wipe();
  for (const std::string& problem : problems) note(problem);
  if (!fitted.ok()) return failed(fitted.error());
  for (const std::string& why : fitted->not_fitted) note("not fitted: " + why);
  return print(command.json ? fitted_json(*fitted)
                            : fitted_page(*fitted, look_now(terminal_now().width)));
}

int perform(const Command& command, const Rehearse& wanted) {
  if (wanted.fit) return fit(command, wanted);
  const StandingLine standing;
  const auto told = [&](const std::string& air, double done) {
    standing.show(rehearsing(air, done));
  };
  // Before the play: nobody waits for a page that cannot be made.
  const auto library =
      wanted.report.empty() ? Result<std::string>("") : chart_library(wanted.charts);
  if (!library.ok()) return failed(library.error());
  std::vector<std::string> problems;
  const auto rehearsed = rehearse(wanted, told, problems);
  standing.wipe();
  for (const std::string& problem : problems) note(problem);
  if (!rehearsed.ok()) return failed(rehearsed.error());
  for (const std::string& text : rehearsed->broken) note("a rule was broken: " + text);
  if (!wanted.report.empty()) {
    const Outcome written = write_report(wanted.report, report_page(*rehearsed, *library));
    if (!written.ok()) return failed(written.error());
  }
  const int printed =
      print(command.json ? rehearsed_json(*rehearsed)
                         : rehearsed_page(*rehearsed, look_now(terminal_now().width)));
  return rehearsed->broken.empty() ? printed : 1;
}

int perform(const Command& command, const KitchenSalts& wanted) {
  std::optional<SaltLine> found;
  if (!wanted.points.empty()) {
    const auto line = salt_line(wanted.points, Celsius{wanted.at_c});
    if (!line.ok()) {
      failed(line.error());
      return 2;
    }
    found = *line;
  }
  const Look look = look_now(terminal_now().width);
  const int printed =
      print(command.json ? salts_json(wanted, found) : salts_page(wanted, found, look));
  if (wanted.tub.empty() || !found) return printed;
  const auto kept =
      ask_daemon(command.socket, "note", salt_note_args(*found, wanted), kAnswerWithin);
  if (!kept.ok()) return failed(kept.error());
  const auto upkeep = ask_daemon(command.socket, "done", salt_done_args(wanted), kAnswerWithin);
  if (!upkeep.ok()) return failed(upkeep.error());
  const Shown done = command.json ? Shown(std::string()) : show_done(*kept, look);
  return done.ok() ? print(*done) : failed(done.error());
}

int perform(const Command& command, const KitchenSum& wanted) {
  return print(command.json ? sum_json(wanted.sum)
                            : sum_page(wanted.sum, look_now(terminal_now().width)));
}

int perform(const Command& command, const KitchenLog& wanted) {
  const auto sum = kitchen_log(wanted);
  return sum.ok() ? perform(command, KitchenSum{*sum}) : failed(sum.error());
}

int perform(const Command& command, const KitchenProbe& wanted) {
  const StandingLine standing(!command.json);
  const auto told = [&](const std::string& line) { standing.show(line); };
  const auto sum = watch_probe(wanted, told);
  standing.wipe();
  return sum.ok() ? perform(command, KitchenSum{*sum}) : failed(sum.error());
}

int perform(const Command& command, const RecordCopy& wanted) {
  const StandingLine standing;
  const auto told = [&](double done) {
    standing.show(fmt::format("{:3.0f} % copied", done * 100.0));
  };
  const AskDaemon ask = [&](const std::string& what, const std::string& args) {
    return ask_daemon(command.socket, what, args, kAnswerWithin);
  };
  const auto copied = copy_record(wanted, ask, told, look_now(terminal_now().width));
  standing.wipe();
  if (!copied.ok()) return failed(copied.error());
  for (const std::string& text : copied->notes) note(text);
  return print(command.json ? copied->json : copied->page);
}

int perform(const Command& command, const SheetToken& wanted) {
  const auto told = sheet_token(wanted, command.json);
  return told.ok() ? print(*told) : failed(told.error());
}

int tell_paper(const Result<PaperTold>& paper) {
  if (!paper.ok()) return failed(paper.error());
  for (const std::string& text : paper->notes) note(text);
  return print(paper->text);
}

AskDaemon asker(const Command& command) {
  return [socket = command.socket](const std::string& what, const std::string& args) {
    return ask_daemon(socket, what, args, kAnswerWithin);
  };
}

int perform(const Command& command, const PrintLabels& wanted) {
  return tell_paper(print_labels(wanted, asker(command), look_now(terminal_now().width)));
}

int perform(const Command& command, const ReportBatches& wanted) {
  return tell_paper(
      report_batches(wanted, asker(command), command.json, look_now(terminal_now().width)));
}

int perform(const Command&, const Told& told) {
  if (told.status == 0) return print(told.text);
  std::fprintf(stderr, "%s\n", told.text.c_str());
  return told.status;
}

}  // namespace

int run(const std::vector<std::string>& words, const std::string& folder) {
  std::setlocale(LC_CTYPE, "");
  const Command command = understand(words, defaults_of(folder));
  for (const std::string& text : command.notes) note(text);
  return std::visit([&](const auto& wanted) { return perform(command, wanted); }, command.wanted);
}

}  // namespace tubwarden::cli
