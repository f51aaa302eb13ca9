#include "programs/cli/sheet_token.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "settings/settings.hpp"
#include "shell/sheet/tokens.hpp"

namespace tubwarden::cli {
namespace {

using Json = nlohmann::ordered_json;

Result<std::string> tokens_file(const SheetToken& wanted) {
  if (!wanted.file.empty()) return wanted.file;
  const Loaded loaded = load_folder(wanted.folder, {});
  if (loaded.site && loaded.site->sheet && loaded.site->sheet->tokens_file) {
    return *loaded.site->sheet->tokens_file;
  }
  // Not so that the file has to be there first: an address for others needs both.
  for (const Finding& f : loaded.findings) {
    if (!loaded.site && f.severity == Severity::error) {
      return Error{ErrorCode::bad_input,
                   fmt::format("{}; mend it, or name the file with --file", f.told())};
    }
  }
  return Error{ErrorCode::bad_input,
               fmt::format("{}/tubwarden.yaml names no file of tokens; give sheet: {{tokens_file: "
                           "/var/lib/tubwarden/sheet-tokens}}, or --file PATH",
                           wanted.folder)};
}

Result<std::string> listed(const std::string& file, bool json) {
  const auto tokens = sheet::read_tokens(file);
  if (!tokens.ok()) return tokens.error();
  Json rows = Json::array();
  std::string page;
  for (const sheet::Token& t : *tokens) {
    rows.push_back({{"name", t.name}, {"may", sheet::name_of(t.may)}});
    page += fmt::format("{:<20}  may {}\n", t.name, sheet::name_of(t.may));
  }
  if (json) return Json{{"tokens", rows}}.dump(2) + "\n";
  return page.empty() ? "nobody has a token\n" : page;
}

Result<std::string> removed(const std::string& file, const std::string& name, bool json) {
  if (const Outcome done = sheet::remove_token(file, name); !done.ok()) return done.error();
  if (json) return Json{{"removed", name}}.dump(2) + "\n";
  return fmt::format("the token '{}' opens nothing any more\n", name);
}

Result<std::string> added(const std::string& file, const SheetToken& wanted, bool json) {
  const auto may = wanted.acts ? sheet::May::act : sheet::May::read;
  const auto token = sheet::add_token(file, wanted.name, may);
  if (!token.ok()) return token.error();
  if (json) {
    return Json{{"name", wanted.name}, {"may", sheet::name_of(may)}, {"token", *token}}.dump(2) +
           "\n";
  }
  return fmt::format(
      "{}\n\nThis is the token of '{}', which may {}. It is not kept and cannot be "
      "shown again.\n",
      *token, wanted.name, sheet::name_of(may));
}

}  // namespace

Result<std::string> sheet_token(const SheetToken& wanted, bool json) {
  const auto file = tokens_file(wanted);
  if (!file.ok()) return file.error();
  switch (wanted.what) {
    case SheetToken::What::list:
      return listed(*file, json);
    case SheetToken::What::add:
      return added(*file, wanted, json);
    case SheetToken::What::remove:
      break;
  }
  return removed(*file, wanted.name, json);
}

}  // namespace tubwarden::cli
