// The words of alerts: the list, the three verbs, what was, and whether the channels work. For
// words.cpp only. Threading: as words.hpp. Failure: wrong words are thrown as the parser's own
// error, which understand() takes.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "programs/cli/words.hpp"

namespace CLI {
class App;
}

namespace tubwarden::cli {

class AlertWords {
 public:
  /// Makes a command of this name below another, with what it does and an example.
  using Add = std::function<CLI::App*(CLI::App& to, const std::string& name,
                                      const std::string& does, const std::string& example)>;
  AlertWords(Command& command, const Defaults& defaults, Add add)
      : command_(command), defaults_(defaults), add_(std::move(add)) {}

  /// `alerts`, and what is below it.
  void add_alerts(CLI::App& to);

 private:
  void add_verbs(CLI::App& alerts);
  void add_past(CLI::App& alerts);
  void understand_quiet();
  double days_back() const;

  Command& command_;
  Defaults defaults_;
  Add add_;
  std::string key_, note_, channel_, back_ = "7d";
  std::vector<std::string> lasting_;
};

}  // namespace tubwarden::cli
