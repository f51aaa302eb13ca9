// The words of an air and its past: why, history, move and water. For words.cpp only.
// Threading: as words.hpp. Failure: wrong words are thrown as the parser's own error, which
// understand() takes.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "programs/cli/words.hpp"

namespace CLI {
class App;
}

namespace tubwarden::cli {

/// Water given by hand, in mL: "200 mL", "1.5 L", "200 g" (a gram is a millilitre).
Result<double> parse_water(std::string_view text);

class AirWords {
 public:
  /// Makes a command of this name, with what it does and an example.
  using Add = std::function<CLI::App*(const std::string& name, const std::string& does,
                                      const std::string& example)>;
  AirWords(Command& command, const Defaults& defaults, Add add)
      : command_(command), defaults_(defaults), add_(std::move(add)) {}

  void add_why();
  void add_history();
  void add_move();
  void add_water();
  void add_refill();

 private:
  WallTime moment(const char* option, const std::string& text);
  void understand_why();
  void understand_history();

  Command& command_;
  Defaults defaults_;
  Add add_;
  std::string tub_, actuator_, chamber_, at_, of_, from_, to_ = "now", every_;
  std::vector<std::string> last_, amount_;
  bool wants_last_ = false, csv_ = false;
};

}  // namespace tubwarden::cli
