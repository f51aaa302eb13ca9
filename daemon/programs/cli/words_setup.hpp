// The words of setting up: init, listen and rehearse. For words.cpp only.
// Threading: as words.hpp. Failure: wrong words are thrown as the parser's own error, which
// understand() takes.
#pragma once

#include <functional>
#include <string>

#include "programs/cli/words.hpp"

namespace CLI {
class App;
}

namespace tubwarden::cli {

/// The words that say which broker.
void ask_broker(CLI::App& sub, BrokerChoice& choice);

class SetupWords {
 public:
  /// Makes a command of this name, with what it does and an example.
  using Add = std::function<CLI::App*(const std::string& name, const std::string& does,
                                      const std::string& example)>;
  SetupWords(Command& command, const Defaults& defaults, Add add);

  void add_init();
  void add_listen();
  void add_rehearse();

 private:
  void understand_fit(CLI::App* sub);

  Command& command_;
  Defaults defaults_;
  Add add_;
  InitFolder init_;
  Listen listen_;
  Rehearse rehearse_;
  std::string fit_until_ = "now";
};

}  // namespace tubwarden::cli
