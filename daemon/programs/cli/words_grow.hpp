// The words of the grow record: cultures, jars, substrate, tubs that grow, and what is due. For
// words.cpp only.
// Threading: as words.hpp. Failure: wrong words are thrown as the parser's own error, which
// understand() takes.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "programs/cli/words.hpp"
#include "settings/amount.hpp"

namespace CLI {
class App;
}

namespace tubwarden::cli {

/// Ids with ranges written out: J-1..J-4 is J-1, J-2, J-3, J-4. At most 500.
Result<std::vector<std::string>> spread(const std::vector<std::string>& words);
/// Millilitres; written 10mL, 10 mL or 0.5 L.
Result<double> parse_millilitres(std::string_view text);
/// Square metres; written 0.24m2 or 2400cm2.
Result<double> parse_area(std::string_view text);
/// Kilograms of water; written 8L or 8kg.
Result<double> parse_water_kg(std::string_view text);

class GrowWords {
 public:
  /// Makes a command of this name below another, with what it does and an example.
  using Add = std::function<CLI::App*(CLI::App& to, const std::string& name,
                                      const std::string& does, const std::string& example)>;
  GrowWords(Command& command, const Defaults& defaults, Add add);

  void add_culture(CLI::App& to);
  void add_sterilise(CLI::App& to);
  void add_jar(CLI::App& to);
  void add_substrate(CLI::App& to);
  void add_beds(CLI::App& to);
  void add_asked(CLI::App& to);

 private:
  // words_jar.cpp
  void add_jar_add(CLI::App& jar);
  void add_jar_acts(CLI::App& jar);
  void add_jar_end(CLI::App& jar);

  CLI::App* add_act(CLI::App& to, const std::string& name, const std::string& does,
                    const std::string& example);
  void ask(CLI::App& sub, const std::string& name, const std::string& help, std::string& text,
           bool needed = false);
  std::vector<std::string> ids(const char* word) const;
  /// Adds a number where its option was given.
  void give(std::string& args, const char* name, const char* option, const std::string& text,
            Result<double> (*parse)(std::string_view)) const;
  /// Wants the act `what` with these arguments and those that every act has.
  void act(const std::string& what, const std::string& args_json,
           Shown (*show)(const std::string&, const Look&) = show_done);

  Command& command_;
  Defaults defaults_;
  Add add_;
  std::string on_, note_, photo_;  ///< of every act
  std::vector<std::string> ids_, amount_;
  std::string id_, batch_, culture_, dose_, grain_, fill_, run_, shelf_, lid_ = "vented", why_;
  std::string volume_, strain_, source_, what_, hold_, gauge_, f0_, dry_, water_, mix_;
  std::string substrate_, surface_, depth_, size_, tub_;
  std::optional<double> count_;
  bool all_ = false;
};

}  // namespace tubwarden::cli
