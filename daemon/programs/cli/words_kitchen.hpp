// The words of the kitchen sums, which need no daemon. For words.cpp only.
// Threading: as words.hpp. Failure: wrong words, and figures that make no sum, are thrown as the
// parser's own error, which understand() takes.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "programs/cli/words.hpp"
#include "settings/amount.hpp"

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
  void add_grain(CLI::App& kitchen);
  void add_hold(CLI::App& kitchen);
  void add_lethality(CLI::App& kitchen);
  void add_substrate(CLI::App& kitchen);
  void add_spawn(CLI::App& kitchen);
  void add_casing(CLI::App& kitchen);
  void add_fresh_air(CLI::App& kitchen);
  void add_air_changes(CLI::App& kitchen);
  void add_dew_point(CLI::App& kitchen);

  /// An option whose text is taken when the command is understood.
  void ask(CLI::App& sub, const std::string& name, const std::string& help);
  /// The words of a sum over a log, whose column is `column` where none is said.
  void ask_log(CLI::App& sub, const std::string& column);
  void take_probe(CLI::App& sub);
  void take_log(KitchenLog::What what, const std::string& column);
  bool given(const std::string& name) const;
  /// In the kept unit; what is not given is `otherwise`, and without that is wrong words.
  double amount(const std::string& name, Measure measure,
                std::optional<double> otherwise = std::nullopt) const;
  void take(const std::string& of, const Result<Sum>& sum);

  Command& command_;
  Add add_;
  KitchenSalts salts_;
  KitchenLog log_;
  KitchenProbe probe_;
  std::vector<std::string> ingredients_;
  std::map<std::string, std::string> texts_;  ///< by option
};

}  // namespace tubwarden::cli
