#include "programs/cli/init.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <set>

#include "programs/cli/init_write.hpp"
#include "shell/hosts/describe.hpp"

namespace tubwarden::cli {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kSocketPathMax = 107;  ///< what a socket's address holds

/// Nothing was asked to begin with, so nothing is half done.
Error ended() {
  return {ErrorCode::unavailable, "the input ended before the last question; nothing was written"};
}

/// The folder before `init`: which of the files are there, and what they name.
struct Before {
  bool site = false, profile = false;
  std::string site_name;
  std::set<std::string> tubs, batches;
};

Result<Before> look_at(const fs::path& folder) {
  Before before;
  std::error_code code;
  before.site = fs::exists(folder / kSiteFile, code);
  before.profile = fs::exists(folder / kProfileFile, code);
  if (!before.site) return before;
  const Loaded loaded = load_folder(folder, {});
  if (!loaded.site) {
    std::string all = "the folder has a tubwarden.yaml already, and it cannot be used:";
    for (const Finding& f : loaded.findings) {
      if (f.file == kSiteFile && f.severity == Severity::error) all += "\n  " + f.told();
    }
    return Error{ErrorCode::refused, all};
  }
  before.site_name = loaded.site->site;
  for (const TubPlan& tub : loaded.grow.tubs) {
    before.tubs.insert(tub.id);
    before.batches.insert(tub.batch);
  }
  before.tubs.insert(loaded.broken_tubs.begin(), loaded.broken_tubs.end());
  return before;
}

/// "tub-1", "tub-2", ...: the first that is free.
std::string first_free(const char* form, const std::set<std::string>& taken) {
  for (int n = 1;; ++n) {
    const std::string name = fmt::format(fmt::runtime(form), n);
    if (!taken.contains(name)) return name;
  }
}

/// Asks, or takes what was given and defaults for the rest.
class Interview {
 public:
  Interview(const InitFolder& wanted, const Before& before, const Asked* person, const Look& look)
      : wanted_(wanted), before_(before), person_(person), look_(look) {}

  Result<InitAnswers> answers(const std::string& record) {
    if (person_) introduce();
    for (const InitQuestion& question : init_questions()) {
      if (const Outcome answered = answer(question, record); !answered.ok()) {
        return answered.error();
      }
    }
    return std::move(answers_);
  }

 private:
  void introduce() {
    say("Enter takes what stands in [ ]; none leaves a thing out. Nothing is written before the "
        "end.");
  }

  void say(const std::string& text, Ink ink = Ink::plain) {
    person_->tell(beside("", text, ink, look_));
  }

  std::string usual(const InitQuestion& question, const std::string& record) const {
    if (question.name == "record") return record;
    if (question.name == "tub") return first_free("tub-{}", before_.tubs);
    if (question.name == "batch") return first_free("B-{:02}", before_.batches);
    return fallback_of(question, answers_);
  }

  Outcome answer(const InitQuestion& question, const std::string& record) {
    const std::string name(question.name);
    const auto given = wanted_.given.find(question.name);
    const bool is_given = given != wanted_.given.end();
    if (before_.site && question.part == AnswerPart::site) return of_the_site_there(question);
    if (!applies(question, answers_)) {
      if (!is_given) return Done{};
      return Error{ErrorCode::bad_input,
                   fmt::format("--{} has nothing to say here: by the other answers there is no "
                               "such part. Leave it out, or name its driver or topic",
                               name)};
    }
    if (!is_given && person_ && question.asked) return ask(question, usual(question, record));
    const std::string taken = is_given ? given->second : usual(question, record);
    if (const auto wrong = wrong_answer(question, taken, answers_)) {
      return Error{ErrorCode::bad_input, fmt::format("--{}: {}", name, *wrong)};
    }
    answers_[name] = taken;
    return Done{};
  }

  /// What stands in the file that is there is not asked, and cannot be given.
  Outcome of_the_site_there(const InitQuestion& question) {
    if (wanted_.given.contains(question.name)) {
      return Error{ErrorCode::bad_input,
                   fmt::format("--{}: tubwarden.yaml is there already and is not changed; edit it, "
                               "or leave the option out",
                               question.name)};
    }
    answers_[std::string(question.name)] =
        question.name == "site" ? before_.site_name : fallback_of(question, answers_);
    return Done{};
  }

  Outcome ask(const InitQuestion& question, const std::string& usual) {
    if (!part_ || *part_ != question.part) {
      part_ = question.part;
      person_->tell("\n" + inked(title_of(question.part), Ink::strong, look_) + "\n");
    }
    person_->tell(beside("  ", question.help, Ink::faint, look_));
    while (true) {
      auto typed = person_->ask(fmt::format("  {} [{}]: ", question.name, usual));
      if (!typed) return ended();
      const auto from = typed->find_first_not_of(" \t\r");
      const std::string given =
          from == std::string::npos
              ? usual
              : typed->substr(from, typed->find_last_not_of(" \t\r") - from + 1);
      const auto wrong = wrong_answer(question, given, answers_);
      if (!wrong) {
        answers_[std::string(question.name)] = given;
        return Done{};
      }
      person_->tell(beside("  ", *wrong, Ink::warn, look_));
    }
  }

  const InitFolder& wanted_;
  const Before& before_;
  const Asked* person_;
  const Look& look_;
  InitAnswers answers_;
  std::optional<AnswerPart> part_;
};

/// New files only; those kept are named. A tub that is there is not written again.
Result<std::vector<NewFile>> to_write(std::vector<NewFile> files, const fs::path& folder,
                                      const Before& before, InitDone& done) {
  std::vector<NewFile> fresh;
  for (NewFile& file : files) {
    const bool there =
        (file.name == kSiteFile && before.site) || (file.name == kProfileFile && before.profile);
    std::error_code code;
    if (!there && fs::exists(folder / file.name, code)) {
      return Error{ErrorCode::refused, (folder / file.name).string() +
                                           " is there already and is not written over; give the "
                                           "tub another name with --tub"};
    }
    (there ? done.kept : done.written).push_back(file.name);
    if (!there) fresh.push_back(std::move(file));
  }
  return fresh;
}

Outcome confirmed(const Asked& person, const InitDone& done, const Look& look) {
  const std::string files = fmt::format("{}", fmt::join(done.written, ", "));
  person.tell("\n" + beside("", fmt::format("{}: {}", done.folder, files), Ink::plain, look));
  const auto said = person.ask("  write them? [yes]: ");
  if (said && (said->empty() || *said == "yes" || *said == "y")) return Done{};
  return Error{ErrorCode::refused, "nothing was written"};
}

/// What the loader says of the folder as it would be.
Outcome checked(const StagedFolder& staged, const InitFolder& wanted, InitDone& done) {
  const PluginCatalogue plugins = describe_all(wanted.plugins, wanted.host, &done.problems);
  Loaded loaded = load_folder(staged.path(), plugins);
  if (loaded.has_errors()) {
    std::string all = "this folder would have errors, so nothing was written:";
    for (const Finding& f : loaded.findings) {
      if (f.severity == Severity::error) all += "\n  " + f.told();
    }
    return Error{ErrorCode::refused, all};
  }
  for (Finding& f : loaded.findings) {
    const bool ours =
        std::find(done.written.begin(), done.written.end(), f.file) != done.written.end();
    if (ours) done.findings.push_back(std::move(f));
  }
  for (FitLine& line : fit_of(loaded.grow)) {
    if (line.tub == done.tub) done.fit.push_back(std::move(line));
  }
  return Done{};
}

/// Beside a folder of its own the record has one as well, and the socket in it.
struct Places {
  std::string record, socket;
};
Places places_for(const fs::path& folder, const std::string& given_socket) {
  Places places;
  const bool installed = folder == kInstalledFolder;
  places.record = installed ? "/var/lib/tubwarden" : folder.string() + "-record";
  places.socket = !given_socket.empty() ? fs::absolute(given_socket).string()
                  : installed           ? "/run/tubwarden/control.sock"
                                        : places.record + "/control.sock";
  return places;
}

}  // namespace

Result<InitDone> init_folder(const InitFolder& wanted, const std::string& given_socket,
                             const std::string& usual_socket, const Asked* person,
                             const Look& look) {
  fs::path folder = fs::absolute(wanted.folder).lexically_normal();
  if (!folder.has_filename()) folder = folder.parent_path();
  const auto before = look_at(folder);
  if (!before.ok()) return before.error();
  const Places places = places_for(folder, given_socket);
  if (!before->site && places.socket.size() > kSocketPathMax) {
    return Error{ErrorCode::bad_input,
                 fmt::format("{} is too long for a socket's path ({} bytes); give a shorter one "
                             "with --socket",
                             places.socket, kSocketPathMax)};
  }
  auto answers = Interview(wanted, *before, person, look).answers(places.record);
  if (!answers.ok()) return answers.error();

  InitDone done;
  done.folder = folder.string();
  done.tub = answers->at("tub");
  done.phase = answers->at("phase");
  auto files = to_write(new_folder(*answers, places.socket), folder, *before, done);
  if (!files.ok()) return files.error();
  auto staged = StagedFolder::make(folder, *files);
  if (!staged.ok()) return staged.error();
  if (const Outcome whole = checked(*staged, wanted, done); !whole.ok()) return whole.error();
  if (person) {
    if (const Outcome yes = confirmed(*person, done, look); !yes.ok()) return yes.error();
  }
  if (const Outcome placed = (*staged).publish(); !placed.ok()) return placed.error();
  const Loaded now = load_folder(folder, {});
  if (now.site && now.site->control_socket != usual_socket) done.socket = now.site->control_socket;
  return done;
}

}  // namespace tubwarden::cli
