#include "programs/cli/words_paper.hpp"

#include <CLI/CLI.hpp>

namespace tubwarden::cli {

PaperWords::PaperWords(Command& command, const Defaults& defaults, Add add)
    : command_(command), defaults_(defaults), add_(std::move(add)) {
  copy_.config = kInstalledFolder;
  copy_.now = defaults.now;
}

void PaperWords::take_copy(RecordCopy::What what) {
  copy_.what = what;
  command_.wanted = copy_;
}

void PaperWords::add_copies() {
  const char* where = "without a daemon, the folder that names the record; /etc/tubwarden without";
  CLI::App* backup =
      add_("backup", "A copy of the record as one file, while all goes on.",
           "tubwarden backup /media/stick\n\nIn a folder the file is named by site and time. "
           "Nothing is overwritten.");
  backup->add_option("FILE", copy_.path, "a new file, or a folder that is there")->required();
  backup->add_option("--config", copy_.config, where)->type_name("DIR");
  backup->callback([this] { take_copy(RecordCopy::What::backup); });

  CLI::App* restore =
      add_("restore", "Puts a backup in the record's place; the daemon is stopped.",
           "sudo systemctl stop tubwarden\n  sudo tubwarden restore "
           "/media/stick/cellar-2026-11-26T03-15-00Z.tar\n  sudo systemctl start tubwarden\n\n"
           "What was there is kept beside it, in before-restore-TIME.");
  restore->add_option("FILE", copy_.path, "what `tubwarden backup` made")->required();
  restore
      ->add_option("--config", copy_.config,
                   "the folder that names the record; /etc/tubwarden "
                   "without")
      ->type_name("DIR");
  restore->callback([this] { take_copy(RecordCopy::What::restore); });

  CLI::App* entries =
      add_("export", "Every entry of the record as CSV and JSON Lines.",
           "tubwarden export ~/cellar-entries\n\nA pair of files a table; docs/record.md has each "
           "field. Readings: tubwarden history --csv.");
  entries->add_option("FOLDER", copy_.path, "a new folder")->required();
  entries->add_option("--config", copy_.config, where)->type_name("DIR");
  entries->callback([this] { take_copy(RecordCopy::What::entries); });
}

}  // namespace tubwarden::cli
