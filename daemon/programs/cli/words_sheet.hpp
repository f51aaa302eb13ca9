// The words of the sheet's tokens. For words.cpp only.
// Threading: as words.hpp. Failure: as words.hpp.
#pragma once

#include <functional>
#include <string>

#include "programs/cli/words.hpp"

namespace CLI {
class App;
}

namespace tubwarden::cli {

class SheetWords {
 public:
  using Add = std::function<CLI::App*(CLI::App& to, const std::string& name,
                                      const std::string& does, const std::string& example)>;
  SheetWords(Command& command, Add add) : command_(command), add_(std::move(add)) {}
  void add_sheet(CLI::App& app);

 private:
  void add_place(CLI::App* sub);
  void wants(SheetToken::What what);

  Command& command_;
  Add add_;
  SheetToken token_;
  std::string may_ = "read";
};

}  // namespace tubwarden::cli
