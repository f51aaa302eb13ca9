// A new configuration folder for one tub, from answers: the questions as one table, what an answer
// may be, and the files' text. Threading: pure. Failure: wrong answers are sentences that say what
// is allowed; answers that pass make files that load.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace tubwarden {

/// Answers that are no value: "there is none", and "the whole payload is the number".
inline constexpr const char* kAnswerNone = "none";
inline constexpr const char* kAnswerWhole = "whole";

/// What an answer is made of.
enum class AnswerKind { id, topic, pointer, path, payload, url, word, amount, fall, words };

/// Where a question belongs; in the order asked.
enum class AnswerPart { site, tub, sensors, mister, fan, heater };
/// "The place", "The mister", ...
std::string_view title_of(AnswerPart part);

struct InitQuestion {
  std::string_view name;  ///< the option's, without its dashes
  AnswerPart part = AnswerPart::site;
  AnswerKind kind = AnswerKind::id;
  /// What is taken where nothing is given; {site} and {tub} stand for those answers.
  std::string_view fallback;
  std::string_view help;  ///< asked and shown in help; short
  /// The row of the option table whose bounds hold for an amount: "section.key"; for words: the
  /// words, between bars.
  std::string_view row = "";
  bool may_be_none = false;
  bool asked = true;  ///< on a terminal; else an option only
};

/// By question's name.
using InitAnswers = std::map<std::string, std::string, std::less<>>;

std::span<const InitQuestion> init_questions();
/// Whether the answers so far leave the question a meaning: no heater has no rate.
bool applies(const InitQuestion& question, const InitAnswers& answers);
/// The fallback, filled in.
std::string fallback_of(const InitQuestion& question, const InitAnswers& answers);
/// What is wrong with an answer, as a sentence that says what is allowed. `answers` holds those of
/// the questions before.
std::optional<std::string> wrong_answer(const InitQuestion& question, const std::string& answer,
                                        const InitAnswers& answers);
/// Every question that applies and has no answer takes its fallback.
void take_fallbacks(InitAnswers& answers);

/// A file of the folder, by its name below it.
struct NewFile {
  std::string name;
  std::string text;
};
inline constexpr const char* kSiteFile = "tubwarden.yaml";
inline constexpr const char* kProfileFile = "profiles/button.yaml";

/// tubwarden.yaml, the button profile and the tub, from whole answers. `socket` is the control
/// socket.
std::vector<NewFile> new_folder(const InitAnswers& answers, const std::string& socket);

/// config/profiles/button.yaml, as it was when the program was built.
std::string_view shipped_button_profile();
/// The phases it has, in its order.
std::vector<std::string> button_phases();

}  // namespace tubwarden
