#include <algorithm>
#include <fstream>
#include <set>
#include <sstream>
#include <tuple>

#include "settings/cross_check.hpp"
#include "settings/settings.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kFileBytesMax = 1024 * 1024;

/// One file's text, or nothing after a finding.
std::optional<std::string> read_text(const fs::path& path, const std::string& name,
                                     std::vector<Finding>& findings) {
  std::error_code code;
  const auto size = fs::file_size(path, code);
  std::ifstream stream(path, std::ios::binary);
  if (code || !stream) {
    findings.push_back({Severity::error, name, 0, 0, "the file cannot be read"});
    return std::nullopt;
  }
  if (size > kFileBytesMax) {
    findings.push_back({Severity::error, name, 0, 0, "the file is larger than 1 MiB"});
    return std::nullopt;
  }
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

/// The names of DIR/*.yaml in order; dot files and other endings are editors' affairs.
std::vector<std::string> yaml_names(const fs::path& folder, const std::string& part) {
  std::vector<std::string> names;
  std::error_code code;
  for (const auto& file : fs::directory_iterator(folder / part, code)) {
    const std::string name = file.path().filename().string();
    if (name.starts_with(".") || file.path().extension() != ".yaml") continue;
    names.push_back(part + "/" + name);
  }
  std::sort(names.begin(), names.end());
  return names;
}

/// Reads a file and hands its tree to `take` with its findings; false when it could not be parsed.
template <class Take>
bool read_file(const fs::path& folder, const std::string& name, std::vector<Finding>& findings,
               std::string* text_out, Take take) {
  const auto text = read_text(folder / name, name, findings);
  if (!text) return false;
  const std::size_t before = findings.size();
  const YamlNode tree = read_yaml(*text, name, findings);
  const bool sound = findings.size() == before;
  if (tree.kind == YamlNode::Kind::empty) {
    if (sound) findings.push_back({Severity::error, name, 0, 0, "the file says nothing"});
    return false;
  }
  if (text_out) *text_out = *text;
  FileFindings own(name, findings);
  take(tree, own);
  return sound && own.errors() == 0;
}

std::string stem(const std::string& name) { return fs::path(name).stem().string(); }

void read_profiles(const fs::path& folder, ReadFolder& read) {
  for (const std::string& name : yaml_names(folder, "profiles")) {
    ReadProfile profile;
    profile.file = name;
    std::string text;
    profile.broken = !read_file(folder, name, read.findings, &text,
                                [&](const YamlNode& tree, FileFindings& findings) {
                                  profile.profile = read_profile(tree, findings);
                                });
    profile.profile.text = std::move(text);
    const std::string id = profile.profile.name.empty() ? stem(name) : profile.profile.name;
    if (const auto known = read.profiles.find(id); known != read.profiles.end()) {
      read.findings.push_back(
          {Severity::error, name, 0, 0,
           "profile '" + id + "' is in " + known->second.file + " already; names are one each"});
      known->second.broken = true;
      continue;
    }
    read.profiles.emplace(id, std::move(profile));
  }
}

void read_chambers_and_tubs(const fs::path& folder, const PluginCatalogue& plugins,
                            ReadFolder& read) {
  for (const std::string& name : yaml_names(folder, "chambers")) {
    ReadChamber chamber;
    const bool whole = read_file(folder, name, read.findings, nullptr,
                                 [&](const YamlNode& tree, FileFindings& findings) {
                                   chamber = read_chamber(tree, plugins, findings);
                                 });
    chamber.file = name;
    chamber.broken = !whole;
    if (chamber.plan.id.empty()) chamber.plan.id = stem(name);
    read.chambers.push_back(std::move(chamber));
  }
  for (const std::string& name : yaml_names(folder, "tubs")) {
    ReadTub tub;
    const bool whole = read_file(folder, name, read.findings, nullptr,
                                 [&](const YamlNode& tree, FileFindings& findings) {
                                   tub = read_tub(tree, plugins, findings);
                                 });
    tub.file = name;
    tub.broken = !whole;
    if (tub.plan.id.empty()) tub.plan.id = stem(name);
    if (tub.air) {
      tub.air->file = name;
      tub.air->broken = tub.broken;
      read.chambers.push_back(*tub.air);
    }
    read.tubs.push_back(std::move(tub));
  }
}

/// Only what is whole goes into the plan; the rest is named.
void take_whole(ReadFolder& read, Loaded& loaded) {
  std::set<std::string> broken_airs;
  for (const ReadTub& tub : read.tubs) {
    if (tub.broken && tub.air) broken_airs.insert(tub.plan.id);
  }
  for (ReadChamber& chamber : read.chambers) {
    if (chamber.broken || broken_airs.contains(chamber.plan.id)) {
      loaded.broken_chambers.push_back(chamber.plan.id);
      broken_airs.insert(chamber.plan.id);
    } else {
      loaded.grow.chambers.push_back(std::move(chamber.plan));
    }
  }
  for (ReadTub& tub : read.tubs) {
    if (tub.broken || broken_airs.contains(tub.plan.chamber)) {
      loaded.broken_tubs.push_back(tub.plan.id);
    } else {
      loaded.grow.tubs.push_back(std::move(tub.plan));
    }
  }
}

}  // namespace

std::string Finding::told() const {
  std::string line_told = file;
  if (line > 0) line_told += ":" + std::to_string(line) + ":" + std::to_string(column);
  return line_told + ": " + (severity == Severity::warning ? "warning: " : "") + text;
}

bool Loaded::has_errors() const {
  return std::any_of(findings.begin(), findings.end(),
                     [](const Finding& f) { return f.severity == Severity::error; });
}

Loaded load_folder(const fs::path& folder, const PluginCatalogue& plugins) {
  Loaded loaded;
  ReadFolder read;
  std::optional<ReadSite> site;
  std::error_code code;
  if (!fs::is_directory(folder, code)) {
    loaded.findings.push_back({Severity::error, folder.string(), 0, 0,
                               "there is no such folder; name the one with tubwarden.yaml in it"});
    return loaded;
  }
  const bool whole = read_file(folder, "tubwarden.yaml", read.findings, nullptr,
                               [&](const YamlNode& tree, FileFindings& findings) {
                                 site = read_site(tree, plugins, findings);
                               });
  if (whole && site) {
    loaded.site = site->site;
    read.room = site->room;
  }
  read_profiles(folder, read);
  read_chambers_and_tubs(folder, plugins, read);
  cross_check(read);
  loaded.grow.room = read.room;
  take_whole(read, loaded);
  loaded.findings = std::move(read.findings);
  std::stable_sort(loaded.findings.begin(), loaded.findings.end(),
                   [](const Finding& a, const Finding& b) {
                     return std::tie(a.file, a.line, a.column) < std::tie(b.file, b.line, b.column);
                   });
  return loaded;
}

std::string check_report(const Loaded& loaded) {
  std::string text;
  std::set<std::string> files;
  std::size_t errors = 0, warnings = 0;
  for (const Finding& f : loaded.findings) {
    text += f.told() + "\n";
    files.insert(f.file);
    (f.severity == Severity::error ? errors : warnings) += 1;
  }
  const auto many = [](std::size_t n, const std::string& what) {
    return (n == 0 ? "no" : std::to_string(n)) + " " + what + (n == 1 ? "" : "s");
  };
  text += many(errors, "error") + ", " + many(warnings, "warning");
  if (!files.empty()) text += " in " + many(files.size(), "file");
  return text + "; " + many(loaded.grow.tubs.size(), "tub") + " and " +
         many(loaded.grow.chambers.size(), "chamber") + " are whole\n";
}

}  // namespace tubwarden
