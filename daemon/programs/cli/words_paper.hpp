// The words of what leaves the daemon's house: backup, restore, export, labels and report. For
// words.cpp only. Threading: as words.hpp. Failure: wrong words are thrown as the parser's own
// error, which understand() takes.
#pragma once

#include <functional>
#include <string>

#include "programs/cli/words.hpp"

namespace CLI {
class App;
}

namespace tubwarden::cli {

class PaperWords {
 public:
  /// Makes a command of this name, with what it does and an example.
  using Add = std::function<CLI::App*(const std::string& name, const std::string& does,
                                      const std::string& example)>;
  PaperWords(Command& command, const Defaults& defaults, Add add);

  void add_copies();
  void add_labels();
  void add_report();

 private:
  void take_copy(RecordCopy::What what);

  Command& command_;
  Defaults defaults_;
  Add add_;
  RecordCopy copy_;
  PrintLabels labels_;
  ReportBatches report_;
  std::string sheet_ = "A4";
};

}  // namespace tubwarden::cli
