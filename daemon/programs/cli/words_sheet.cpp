#include "programs/cli/words_sheet.hpp"

#include <CLI/CLI.hpp>

namespace tubwarden::cli {

void SheetWords::add_place(CLI::App* sub) {
  sub->add_option("--config", token_.folder, "the folder whose sheet it is; /etc/tubwarden without")
      ->type_name("DIR");
  sub->add_option("--file", token_.file, "the file of tokens itself")->type_name("PATH");
}

void SheetWords::wants(SheetToken::What what) {
  token_.what = what;
  token_.acts = may_ == "act";
  command_.wanted = token_;
}

void SheetWords::add_sheet(CLI::App& app) {
  token_.folder = kInstalledFolder;
  CLI::App* sheet = add_(app, "sheet", "The page in a browser: who may open it.",
                         "sudo tubwarden sheet token add phone --may act");
  sheet->require_subcommand(1);
  CLI::App* token = add_(*sheet, "token", "The tokens that open the sheet; no daemon.",
                         "tubwarden sheet token list");
  token->require_subcommand(1);

  CLI::App* made = add_(*token, "add", "Makes a token and prints it, once.",
                        "sudo tubwarden sheet token add phone --may act");
  made->add_option("NAME", token_.name, "who or what has it; the record names it")->required();
  made->add_option("--may", may_, "read, or act as well")
      ->check(CLI::IsMember({"read", "act"}))
      ->type_name("read|act")
      ->required();
  add_place(made);
  made->callback([this] { wants(SheetToken::What::add); });

  CLI::App* listed =
      add_(*token, "list", "Who has a token, and what for.", "tubwarden sheet token list");
  add_place(listed);
  listed->callback([this] { wants(SheetToken::What::list); });

  CLI::App* removed = add_(*token, "remove", "Takes a token back, and signs out who had it.",
                           "sudo tubwarden sheet token remove phone");
  removed->add_option("NAME", token_.name, "the token's name")->required();
  add_place(removed);
  removed->callback([this] { wants(SheetToken::What::remove); });
}

}  // namespace tubwarden::cli
