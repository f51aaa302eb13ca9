#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "programs/cli/init.hpp"

namespace tubwarden::cli {
namespace {

using Json = nlohmann::ordered_json;

struct Next {
  std::string why, command;
};

/// A path as a shell takes it.
std::string quoted(const std::string& path) {
  const bool plain = std::all_of(path.begin(), path.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           std::string_view("/._-+:@").find(c) != std::string_view::npos;
  });
  if (plain && !path.empty()) return path;
  std::string text = "'";
  for (const char c : path) text += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return text + "'";
}

std::array<Next, 3> next_of(const InitDone& done) {
  const std::string folder = quoted(done.folder);
  const std::string socket = done.socket.empty() ? "" : "--socket " + quoted(done.socket) + " ";
  return {{{"Hear what your sensors say; put right the sensor lines if they say it otherwise:",
            "tubwarden listen --config " + folder},
           {"See what the daemon would do; it switches nothing:",
            "tubwardend --config " + folder + " --dry"},
           {"While it runs, tell it the phase; tell it again to the daemon that is to switch:",
            fmt::format("tubwarden {}phase {} {}", socket, done.tub, done.phase)}}};
}

Ink ink_of(FitMark mark) {
  switch (mark) {
    case FitMark::cannot:
      return Ink::alarm;
    case FitMark::tight:
      return Ink::warn;
    case FitMark::unknown:
    case FitMark::fits:
      break;
  }
  return Ink::plain;
}

/// The sum in a line's text is its first phase's.
std::string phases_of(const FitLine& line) {
  if (line.phases.size() < 2) return fmt::format("{}", fmt::join(line.phases, ""));
  return fmt::format("{} (likewise {})", line.phases.front(),
                     fmt::join(line.phases.begin() + 1, line.phases.end(), ", "));
}

/// What fits is counted only: `check` has every sum.
void tell_fit(const InitDone& done, const Look& look, std::string& page) {
  if (done.fit.empty()) return;
  page += "\n" + inked("Does it fit?", Ink::strong, look) + "\n";
  std::size_t fits = 0;
  for (const FitLine& line : done.fit) {
    if (line.mark == FitMark::fits) {
      ++fits;
      continue;
    }
    const std::string mark = fmt::format("{:<11}  ", word_of(line.mark));
    page += beside("  " + inked(mark, ink_of(line.mark), look), phases_of(line) + ": " + line.text,
                   Ink::plain, look);
  }
  page +=
      beside("  ",
             fmt::format("{} more {}; every sum is told by {}", fits, fits == 1 ? "fits" : "fit",
                         unbroken("tubwarden check " + quoted(done.folder))),
             Ink::plain, look);
}

}  // namespace

std::string init_page(const InitDone& done, const Look& look) {
  std::string page = inked(done.folder, Ink::strong, look) + "\n";
  for (const std::string& name : done.written) page += "  written  " + name + "\n";
  for (const std::string& name : done.kept) page += "  kept     " + name + "\n";
  if (!done.findings.empty()) page += "\n" + inked("To know of it", Ink::strong, look) + "\n";
  for (const Finding& f : done.findings) {
    page += beside("  ", fmt::format("{}:{}: {}", f.file, f.line, f.text), Ink::plain, look);
  }
  tell_fit(done, look, page);
  page += "\n" + inked("Next", Ink::strong, look) + "\n";
  int number = 0;
  for (const Next& next : next_of(done)) {
    page += beside(fmt::format("  {}  ", ++number), next.why, Ink::plain, look);
    page += "     " + inked(next.command, Ink::strong, look) + "\n";
  }
  return page;
}

std::string init_json(const InitDone& done) {
  Json findings = Json::array(), fit = Json::array(), next = Json::array();
  for (const Finding& f : done.findings) {
    findings.push_back(
        {{"file", f.file}, {"line", f.line}, {"column", f.column}, {"text", f.text}});
  }
  for (const FitLine& line : done.fit) {
    fit.push_back({{"mark", word_of(line.mark)},
                   {"about", name_of(line.about)},
                   {"phases", line.phases},
                   {"text", line.text}});
  }
  for (const Next& one : next_of(done)) next.push_back(one.command);
  const Json told = {{"folder", done.folder}, {"written", done.written}, {"kept", done.kept},
                     {"tub", done.tub},       {"phase", done.phase},     {"warnings", findings},
                     {"fit", std::move(fit)}, {"next", std::move(next)}};
  return told.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace tubwarden::cli
