#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "settings/cross_check.hpp"
#include "settings/file_text.hpp"
#include "settings/settings.hpp"

namespace tubwarden {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kFileBytesMax = 1024 * 1024;
constexpr std::size_t kFilesMax = 5000;  // a folder of this project holds some thousand tubs
constexpr std::size_t kFindingsPerFileMax = 200;

/// The names of DIR/*.yaml in order; dot files and other endings are editors' affairs.
std::vector<std::string> yaml_names(const fs::path& folder, const std::string& part,
                                    std::vector<Finding>& findings) {
  std::vector<std::string> names;
  std::error_code code;
  for (const auto& file : fs::directory_iterator(folder / part, code)) {
    const std::string name = file.path().filename().string();
    if (name.starts_with(".")) continue;
    if (file.path().extension() == ".yml") {
      findings.push_back({Severity::warning, part + "/" + name, 0, 0,
                          "not read; name it " + file.path().stem().string() + ".yaml"});
    }
    if (file.path().extension() == ".yaml") names.push_back(part + "/" + name);
  }
  std::sort(names.begin(), names.end());
  if (names.size() > kFilesMax) {
    findings.push_back({Severity::error, part, 0, 0,
                        fmt::format("more than {} files; those behind {} were not read", kFilesMax,
                                    names[kFilesMax - 1])});
    names.resize(kFilesMax);
  }
  return names;
}

std::string stem(const std::string& name) { return fs::path(name).stem().string(); }

/// Reads the folder's files one after another.
class FolderReader {
 public:
  FolderReader(const fs::path& folder, const PluginCatalogue& plugins, ReadFolder& out)
      : folder_(folder), plugins_(plugins), out_(out) {}

  std::optional<SiteSettings> site() {
    ReadSite site;
    const YamlFile file = open("tubwarden.yaml");
    const bool whole = read(file, "tubwarden.yaml", [&](FileFindings& findings) {
      site = read_site(file.root, plugins_, findings);
    });
    if (!whole) return std::nullopt;
    out_.room = site.room;
    out_.room_read = true;
    return site.site;
  }

  void profiles() {
    for (const std::string& name : yaml_names(folder_, "profiles", out_.findings)) {
      ReadProfile profile;
      profile.file = name;
      const YamlFile file = open(name);
      profile.broken = !read(file, name, [&](FileFindings& findings) {
        profile.profile = read_profile(file.root, findings);
      });
      profile.profile.text = std::move(text_);
      const std::string id = named(file, "profile", name, out_.all_profiles_named);
      const auto [known, fresh] = out_.profiles.emplace(id, std::move(profile));
      if (fresh) continue;
      known->second.broken = true;
      out_.error(name, place_of(file, "profile"),
                 fmt::format("profile '{}' is in {} already; each has a name of its own", id,
                             known->second.file));
    }
  }

  void chambers() {
    for (const std::string& name : yaml_names(folder_, "chambers", out_.findings)) {
      ReadChamber chamber;
      const YamlFile file = open(name);
      const bool whole = read(file, name, [&](FileFindings& findings) {
        chamber = read_chamber(file.root, plugins_, findings);
      });
      chamber.file = name;
      chamber.broken = !whole;
      chamber.plan.id = named(file, "chamber", name, out_.all_chambers_named);
      out_.chambers.push_back(std::move(chamber));
    }
  }

  void tubs() {
    for (const std::string& name : yaml_names(folder_, "tubs", out_.findings)) {
      ReadTub tub;
      const YamlFile file = open(name);
      const bool whole = read(file, name, [&](FileFindings& findings) {
        tub = read_tub(file.root, plugins_, findings);
      });
      tub.file = name;
      tub.broken = !whole;
      const char* key = place_of(file, "tub").line > 0 ? "tub" : "shelf";
      tub.plan.id = named(file, key, name, out_.all_tubs_named);
      if (tub.air) {
        tub.air->file = name;
        tub.air->plan.id = tub.plan.id;
        tub.air->broken = tub.broken;
        out_.chambers.push_back(*tub.air);
      }
      out_.tubs.push_back(std::move(tub));
    }
  }

  std::size_t files() const { return files_; }

 private:
  /// The file's tree; its text stays in text_.
  YamlFile open(const std::string& name) {
    ++files_;
    begin_ = out_.findings.size();
    auto text = read_file_text(folder_ / name, name, kFileBytesMax, out_.findings);
    text_ = text ? std::move(*text) : "";
    if (!text) return {};
    YamlFile file = read_yaml(text_, name, out_.findings);
    if (file.whole && file.root.kind == YamlNode::Kind::empty) {
      out_.error(name, {}, "the file says nothing; begin with its name, or remove it");
      file.whole = false;
    }
    return file;
  }

  /// Whether the file has no error. A tree with a syntax error is not read further.
  template <class Take>
  bool read(const YamlFile& file, const std::string& name, Take take) {
    // Anchors, tags and doubled keys are errors of a well-formed file: the rest is read as well.
    FileFindings findings(name, out_.findings);
    if (file.parsed && file.root.kind != YamlNode::Kind::empty) take(findings);
    cap(name);
    return file.whole && findings.errors() == 0;
  }

  void cap(const std::string& name) {
    if (out_.findings.size() <= begin_ + kFindingsPerFileMax) return;
    const std::size_t more = out_.findings.size() - begin_ - kFindingsPerFileMax;
    out_.findings.resize(begin_ + kFindingsPerFileMax);
    out_.error(name, {},
               fmt::format("{} more findings here are not shown; mend these first", more));
  }

  static Place place_of(const YamlFile& file, std::string_view key) {
    for (const auto& [name, value] : file.root.members) {
      if (name.text == key) return value;
    }
    return {};
  }

  /// The name inside, even where the rest is broken; else the file's own.
  static std::string named(const YamlFile& file, std::string_view key, const std::string& name,
                           bool& all_named) {
    for (const auto& [member, value] : file.root.members) {
      if (member.text == key && value.kind == YamlNode::Kind::scalar && !value.text.empty()) {
        return value.text;
      }
    }
    all_named = false;
    return stem(name);
  }

  const fs::path& folder_;
  const PluginCatalogue& plugins_;
  ReadFolder& out_;
  std::string text_;
  std::size_t begin_ = 0;
  std::size_t files_ = 0;
};

/// A tub falls with its air, and its own air with it.
void spread_breaks(ReadFolder& read, const FolderIndex& index) {
  for (ReadTub& tub : read.tubs) {
    const auto found = index.chambers.find(tub.plan.chamber);
    if (found == index.chambers.end()) continue;
    ReadChamber& chamber = *found->second;
    if (chamber.broken) tub.broken = true;
  }
  for (ReadChamber& chamber : read.chambers) {
    const auto tub = index.tubs.find(chamber.plan.id);
    if (chamber.own_air && tub != index.tubs.end() && tub->second->broken) chamber.broken = true;
  }
}

/// Only what is whole goes into the plan; the rest is named, each once.
void take_whole(ReadFolder& read, Loaded& loaded) {
  for (ReadChamber& chamber : read.chambers) {
    if (chamber.broken) {
      loaded.broken_chambers.push_back(chamber.plan.id);
    } else {
      loaded.grow.chambers.push_back(std::move(chamber.plan));
    }
  }
  for (ReadTub& tub : read.tubs) {
    if (tub.broken) {
      loaded.broken_tubs.push_back(tub.plan.id);
    } else {
      loaded.grow.tubs.push_back(std::move(tub.plan));
    }
  }
  for (auto* names : {&loaded.broken_tubs, &loaded.broken_chambers}) {
    std::sort(names->begin(), names->end());
    names->erase(std::unique(names->begin(), names->end()), names->end());
  }
}

}  // namespace

std::string Finding::told() const {
  const std::string place = line > 0 ? fmt::format(":{}:{}", line, column) : "";
  return fmt::format("{}{}: {}{}", file, place, severity == Severity::warning ? "warning: " : "",
                     text);
}

bool Loaded::has_errors() const {
  return std::any_of(findings.begin(), findings.end(),
                     [](const Finding& f) { return f.severity == Severity::error; });
}

Loaded load_folder(const fs::path& folder, const PluginCatalogue& plugins) {
  Loaded loaded;
  std::error_code code;
  if (!fs::is_directory(folder, code)) {
    loaded.findings.push_back({Severity::error, folder.string(), 0, 0,
                               "there is no such folder; name the one with tubwarden.yaml in it"});
    return loaded;
  }
  ReadFolder read;
  FolderReader reader(folder, plugins, read);
  loaded.site = reader.site();
  reader.profiles();
  reader.chambers();
  reader.tubs();
  if (plugins.empty()) {
    read.warning("tubwarden.yaml", {}, "no plugins are known, so no wiring was checked");
  }
  const FolderIndex index = cross_check(read);
  spread_breaks(read, index);
  advise(read, index);
  loaded.files = reader.files();
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
  std::size_t errors = 0, warnings = 0;
  for (const Finding& f : loaded.findings) {
    text += f.told() + "\n";
    (f.severity == Severity::error ? errors : warnings) += 1;
  }
  const auto count = [](std::size_t n, std::string_view what) {
    return n == 0 ? fmt::format("no {}s", what)
                  : fmt::format("{} {}{}", n, what, n == 1 ? "" : "s");
  };
  text += count(errors, "error");
  if (warnings > 0) text += ", " + count(warnings, "warning");
  text += fmt::format(" in {}", count(loaded.files, "file"));
  if (!loaded.broken_tubs.empty()) {
    text += fmt::format("; left out until mended: {}", fmt::join(loaded.broken_tubs, ", "));
  }
  return text + "\n";
}

}  // namespace tubwarden
