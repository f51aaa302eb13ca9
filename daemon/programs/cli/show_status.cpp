#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "programs/cli/status_air.hpp"

namespace tubwarden::cli {
namespace {

constexpr std::size_t kNameMost = 16;
constexpr std::size_t kFindingsShown = 5;

/// `left` and `right` at the two edges, the paper's rule between them.
std::string ruled(const std::string& left, const std::string& right_text, const Look& look) {
  const std::size_t used = columns(left) + columns(right_text) + 2;
  const auto width = static_cast<std::size_t>(look.width);
  std::string rule;
  for (std::size_t i = 0; i < (width > used + 2 ? width - used : 2); ++i) {
    rule += look.utf8 ? "\u2500" : "-";
  }
  return left + " " + inked(rule, Ink::faint, look) + " " + right_text;
}

/// What the sentence leaves out, as further sentences.
std::string small_print(const Json& actuator) {
  std::string told;
  const double starts = number(actuator, "starts_last_hour").value_or(0);
  const double restarts = number(actuator, "restarts").value_or(0);
  if (starts > 0) told += " " + counted(starts, "start", "starts") + " in the last hour.";
  if (restarts > 0) {
    told += " " + counted(restarts, "restart", "restarts") + " of its driver.";
  }
  if (text(actuator, "falls_by_itself") == "never") told += " It cannot fall safe by itself.";
  return told;
}

/// `tub` is one that stands in this air: an output is released by a tub's name.
void actuator_lines(Page& page, const Json& actuator, const std::string& tub) {
  const std::string id = page.said(actuator, "id");
  const std::string health = text(actuator, "health");
  const bool runs = number(actuator, "level_pct").value_or(0) > 0;
  const std::string name = padded(id, page.name_width - 1) + " ";
  const Mark marked = is_failed(health) ? Mark::wrong : runs ? Mark::runs : Mark::none;
  page.beside(mark(page, marked) + (runs ? page.ink(name, Ink::strong) : name),
              page.said(actuator, "why") + small_print(actuator));
  const std::string indent(2 + columns(name), ' ');
  if (is_failed(health)) {
    page.beside(indent,
                fmt::format("{}. See what it is, then: {}", clean(health, page.look),
                            unbroken(fmt::format("tubwarden outputs release {} {}", tub, id))),
                Ink::alarm);
  } else if (health != "ready") {
    page.beside(indent,
                health == "unconfirmed" ? "it has not confirmed what it was told"
                                        : "its driver is " + clean(health, page.look),
                Ink::warn);
  }
}

void tub_head(Page& page, const Json& tub) {
  const std::string phase = page.said(tub, "phase");
  std::string left = page.ink(page.said(tub, "id"), Ink::strong) + "  ";
  if (phase.empty()) {
    left += page.ink("phase not confirmed", Ink::alarm);
  } else {
    if (const auto flush = number(tub, "flush")) {
      const std::string loop = page.said(tub, "loop");
      left += fmt::format("{}, flush {:.0f}{}", loop, *flush, loop == phase ? "" : ", " + phase);
    } else {
      left += phase;
    }
    if (const auto day = number(tub, "day")) left += fmt::format(", day {:.0f}", *day);
  }
  const std::string right_text = page.ink(
      fmt::format("batch {}, profile {}", page.said(tub, "batch"), page.said(tub, "profile")),
      Ink::faint);
  page.line(ruled(left, right_text, page.look));
  if (const std::string note = page.said(tub, "note"); !note.empty()) {
    page.beside("  ", note, Ink::warn);
  }
  if (phase.empty()) {
    page.beside("  ",
                "its outputs stay safe until you say: " +
                    unbroken(fmt::format("tubwarden phase {} {}", page.said(tub, "id"),
                                         page.said(tub, "file_phase"))),
                Ink::warn);
  }
}

/// What a hand holds, and for how long yet.
void hand_lines(Page& page, const Json& chamber) {
  for (const Json& hand : list(chamber, "hands")) {
    const std::string kind = text(hand, "kind");
    const std::string id = page.said(hand, "actuator");
    const bool runs = number(hand, "level_pct").value_or(0) > 0;
    const std::string what = kind == "attend"
                                 ? "hands are in the tub: outputs rest, alerts are quiet"
                             : kind == "trial" ? id + " is tried"
                             : runs            ? id + " is kept running by hand"
                                               : id + " is kept at rest by hand";
    page.beside(
        "  ", fmt::format("{}, for another {}", what, shortly(number(hand, "left_s").value_or(0))),
        Ink::warn);
  }
}

/// A name beside a clause of the book, as an actuator's line stands.
void book_line(Page& page, const std::string& name, const std::string& told) {
  if (!told.empty()) page.beside("  " + padded(name, page.name_width), told, Ink::faint);
}

void water_lines(Page& page, const Json& chamber) {
  const Json& surfaces = member(chamber, "surfaces");
  if (const auto wet_s = number(surfaces, "wet_for_s")) {
    const auto dries_s = number(surfaces, "dries_for_s");
    book_line(page, "surfaces",
              fmt::format("wet for {}{}", shortly(*wet_s),
                          dries_s ? ", dried for another " + shortly(*dries_s) + " at most" : ""));
  }
  const Json& water = member(chamber, "water");
  const Json& casings = list(water, "casings");
  for (const Json& casing : casings) {
    book_line(page, casings.size() > 1 ? "water " + page.said(casing, "tub") : "water",
              page.said(casing, "text"));
  }
  for (const Json& tank : list(water, "tanks")) book_line(page, "tank", page.said(tank, "text"));
  book_line(page, "day", page.said(member(water, "day"), "text"));
}

void chamber_body(Page& page, const Json& chamber, bool shared) {
  if (shared) {
    page.line(page.ink(fmt::format("  the air of {}, led by {}", page.said(chamber, "id"),
                                   page.said(chamber, "leader")),
                       Ink::faint));
  }
  hand_lines(page, chamber);
  for (const Json& air : list(chamber, "air")) air_line(page, air);
  derived_lines(page, chamber);
  const std::string leader = page.said(chamber, "leader");
  if (list(chamber, "air").empty()) page.line("  nothing has been heard of this air yet");
  for (const Json& actuator : list(chamber, "actuators")) {
    actuator_lines(page, actuator, leader.empty() ? page.said(chamber, "id") : leader);
  }
  water_lines(page, chamber);
}

void strips(Page& page, const Json& status) {
  const Json& tubs = list(status, "tubs");
  const Json& chambers = list(status, "chambers");
  for (const Json& chamber : chambers) {
    const std::string id = text(chamber, "id");
    page.gap();
    bool any = false, own = false;
    for (const Json& tub : tubs) {
      if (text(tub, "chamber") != id) continue;
      tub_head(page, tub);
      any = true;
      own = text(tub, "id") == id;
    }
    if (!any)
      page.line(ruled(page.ink(page.said(chamber, "id"), Ink::strong), "no tub", page.look));
    chamber_body(page, chamber, any && !own);
  }
  for (const Json& tub : tubs) {
    const std::string in = text(tub, "chamber");
    const bool has_air = std::any_of(chambers.begin(), chambers.end(),
                                     [&](const Json& c) { return text(c, "id") == in; });
    if (has_air) continue;
    page.gap();
    tub_head(page, tub);
    page.beside("  ", "its air has no whole configuration; nothing is switched", Ink::alarm);
  }
  if (tubs.empty() && chambers.empty()) {
    page.gap();
    page.line(
        "No tub is configured: put a file for each in the tubs/ of the configuration folder.");
  }
}

bool is_warning(const Json& finding) {
  return finding.get<std::string>().find(": warning: ") != std::string::npos;
}

bool told_by_an_alert(const Json& status, const std::string& finding) {
  const Json& alerts = list(status, "alerts");
  return std::any_of(alerts.begin(), alerts.end(), [&](const Json& a) {
    return text(a, "text").find(finding) != std::string::npos;
  });
}

/// What no alert says yet: the machine's own troubles.
std::vector<std::string> troubles(Page& page, const Json& status) {
  std::vector<std::string> told;
  const auto stands = [&](const char* cause) {
    const Json& alerts = list(status, "alerts");
    return std::any_of(alerts.begin(), alerts.end(),
                       [&](const Json& a) { return text(a, "cause") == cause; });
  };
  if (!yes(member(status, "broker"), "up") && !stands("broker_lost")) {
    told.push_back("the broker is away; nothing is read and outputs stand at their safe level");
  }
  if (!yes(status, "clock_set")) {
    told.push_back("the board's clock is not set; the record's times are mended when it is");
  }
  const double failures = number(member(status, "record"), "failures").value_or(0);
  if (failures > 0 && !stands("record_failed")) {
    told.push_back(counted(failures, "entry", "entries") +
                   " could not be kept in the record; look at the disk");
  }
  const Json& config = member(status, "config");
  const Json& findings = list(config, "findings");
  std::size_t shown = 0;
  for (const Json& finding : findings) {
    if (!finding.is_string() || is_warning(finding)) continue;
    if (told_by_an_alert(status, finding.get<std::string>())) continue;
    if (shown++ == kFindingsShown) {
      told.push_back("and more, told by " +
                     unbroken("tubwarden check " + page.said(config, "folder")));
      break;
    }
    told.push_back(clean(finding.get<std::string>(), page.look));
  }
  return told;
}

/// The page's first lines: where, when, and everything that is wrong.
void head(Page& page, const Json& status) {
  std::vector<Json> alerts = by_rank(list(status, "alerts"));
  // What is off while it is mended is not wrong anew; it is listed below, always.
  std::erase_if(alerts, [](const Json& a) { return text(a, "state") == "off"; });
  const Json& off = list(status, "off");
  const std::vector<std::string> others = troubles(page, status);
  const std::size_t count = alerts.size() + others.size();
  const std::string at = text(status, "at");
  const std::string left =
      page.ink(page.said(status, "site"), Ink::strong) + "  " +
      page.ink(at.empty() ? "clock not set" : local_time(at, page.look, true), Ink::faint);
  const std::string verdict = count == 0   ? "nothing is wrong"
                              : count == 1 ? "1 thing is wrong"
                                           : std::to_string(count) + " things are wrong";
  const auto width = static_cast<std::size_t>(page.look.width);
  page.line(left + "  " +
            right(page.ink(verdict, count ? Ink::alarm : Ink::plain), width - columns(left) - 2));
  if (yes(status, "dry_run")) {
    page.beside(page.ink("DRY RUN", Ink::alarm) + "  ",
                "nothing is switched, published or told, and the record is a copy that is thrown "
                "away. What would be switched stands in the daemon's log.",
                Ink::warn);
  }
  if (count > 0 || !off.empty()) page.gap();
  for (const Json& alert : alerts) page.text += alert_row(alert, page.look);
  for (const std::string& other : others) {
    page.beside(page.ink("noted ", Ink::warn) + "      ", other);
  }
  for (const Json& a : off) {
    page.beside(page.ink("off   ", Ink::warn) +
                    right(shortly(number(a, "off_for_s").value_or(0)), 4) + "  ",
                page.said(a, "key") + " is off while it is mended: " + page.said(a, "note") +
                    ". Back: " + unbroken("tubwarden alerts back " + page.said(a, "key")));
  }
}

void machine(Page& page, const Json& status) {
  const Json& broker = member(status, "broker");
  const Json& record = member(status, "record");
  const Json& config = member(status, "config");
  const auto count = [](const Json& object, const char* name) {
    return number(object, name).value_or(0);
  };
  const bool up = yes(broker, "up");
  page.gap();
  page.beside(
      "broker  ",
      fmt::format("{}, {} {}; {:.0f} received, {:.0f} refused, {:.0f} dropped",
                  page.said(broker, "url"), up ? "up" : "AWAY", shortly(count(broker, "since_s")),
                  count(broker, "received"), count(broker, "refused"), count(broker, "dropped")),
      up ? Ink::faint : Ink::alarm);
  page.beside(
      "record  ",
      fmt::format("{}; {}, {:.0f} failed", page.said(record, "folder"),
                  counted(count(record, "entries"), "entry", "entries"), count(record, "failures")),
      count(record, "failures") > 0 ? Ink::alarm : Ink::faint);
  const Json& findings = list(config, "findings");
  const auto warnings = std::count_if(findings.begin(), findings.end(),
                                      [](const Json& f) { return f.is_string() && is_warning(f); });
  const std::string more =
      warnings > 0 ? "; " + counted(static_cast<double>(warnings), "warning", "warnings") +
                         ", told by " + unbroken("tubwarden check " + page.said(config, "folder"))
                   : "";
  page.beside(
      "config  ",
      fmt::format("{}, {}{}", page.said(config, "folder"), page.said(config, "state"), more),
      text(config, "state") == "as read" ? Ink::faint : Ink::warn);
}

std::size_t name_width(const Json& status, const Look& look) {
  std::size_t longest = 0;
  for (const Json& chamber : list(status, "chambers")) {
    for (const Json& actuator : list(chamber, "actuators")) {
      longest = std::max(longest, columns(clean(text(actuator, "id"), look)) + 1);
    }
  }
  return std::clamp(longest, kNameLeast, kNameMost);
}

}  // namespace

Shown show_status(const std::string& json, const Look& given) {
  const auto status = parsed(json, "tubs");
  if (!status.ok()) return status.error();
  Look look = given;
  look.width = std::clamp(look.width, 60, 160);
  Page page{look, name_width(*status, look), {}};
  head(page, *status);
  strips(page, *status);
  machine(page, *status);
  for (const Json& host : list(*status, "hosts")) page.text += host_row(host, look);
  return page.text;
}

}  // namespace tubwarden::cli
