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
      add_("restore", "Puts a backup in the place of the record.",
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

void PaperWords::add_labels() {
  CLI::App* sub = add_("labels", "A sheet of labels for jars and tubs, as SVG.",
                       "tubwarden labels B-07 > labels.svg\n  tubwarden labels J-3 tub-1 --sheet "
                       "letter --columns 2 --rows 5 > labels.svg\n\nPrint it at its own size "
                       "(100 %), and cut along the lines.");
  sub->add_option("NAME", labels_.names, "a batch (all its jars and tubs), a jar, tub or culture")
      ->required();
  sub->add_option("--sheet", sheet_, "A4 or letter [A4]")
      ->type_name("SHEET")
      ->check(CLI::IsMember({"A4", "letter"}));
  sub->add_option("--columns", labels_.columns, "labels side by side [3]")
      ->type_name("N")
      ->check(CLI::Range(1, 20));
  sub->add_option("--rows", labels_.rows, "labels below each other [8]")
      ->type_name("N")
      ->check(CLI::Range(1, 40));
  sub->add_option("--page", labels_.page, "which page, where there are several [1]")
      ->type_name("N")
      ->check(CLI::Range(1, 1000));
  sub->callback([this] {
    labels_.letter = sheet_ == "letter";
    command_.wanted = labels_;
  });
}

void PaperWords::add_report() {
  constexpr int kSideBySideMost = 20;
  CLI::App* sub = add_("report", "What a batch came to, as a page to read and to print.",
                       "tubwarden report B-07 > B-07.html\n  tubwarden report B-07 B-08 > "
                       "both.html\n  tubwarden report B-07 --csv");
  sub->add_option("BATCH", report_.batches, "one as a whole page; several side by side")
      ->required()
      ->expected(1, kSideBySideMost);
  sub->add_flag("--csv", report_.csv, "a figure a line, with its unit");
  sub->callback([this] {
    report_.now = defaults_.now;
    command_.wanted = report_;
  });
}

}  // namespace tubwarden::cli
