// The words of the kitchen sums, which need no daemon. For words.cpp only.
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

class KitchenWords {
 public:
  /// Makes a command of this name below another, with what it does and an example.
  using Add = std::function<CLI::App*(CLI::App& to, const std::string& name,
                                      const std::string& does, const std::string& example)>;
  KitchenWords(Command& command, Add add);

  /// `kitchen`, and what is below it.
  void add_kitchen(CLI::App& to);

 private:
  void add_salts(CLI::App& kitchen);

  Command& command_;
  Add add_;
  KitchenSalts salts_;
  std::string at_;
};

}  // namespace tubwarden::cli
