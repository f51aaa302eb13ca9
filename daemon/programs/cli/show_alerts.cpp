// The pages of alerts: what stands, what was, and how the channels do.
#include <fmt/format.h>

#include <algorithm>

#include "programs/cli/json_read.hpp"

namespace tubwarden::cli {
namespace {

Ink ink_of_state(const std::string& state, const std::string& rank) {
  if (state != "unseen") return Ink::faint;
  return rank == "now" ? Ink::alarm : rank == "today" ? Ink::warn : Ink::plain;
}

/// "unseen", "quiet 1h", "off", "over".
std::string state_words(const Json& alert) {
  const std::string state = text(alert, "state");
  if (state == "over_unseen") return "over";
  if (state == "quiet") return "quiet " + shortly(number(alert, "quiet_left_s").value_or(0));
  return state.empty() ? "unseen" : state;
}

std::string below(const std::string& words, const Look& look) {
  return beside(std::string(26, ' '), words, Ink::faint, look);
}

std::string listed_row(const Json& alert, const Look& look) {
  const std::string rank = clean(text(alert, "rank"), look);
  const std::string place = clean(text(alert, "place"), look);
  std::string told = clean(text(alert, "text"), look);
  if (place != "site" && told.rfind(place, 0) != 0) told = place + ": " + told;
  const std::string head = right(fmt::format("{:.0f}", number(alert, "number").value_or(0)), 3) +
                           "  " +
                           inked(padded(rank, 6), ink_of_state(text(alert, "state"), rank), look) +
                           " " + padded(clean(state_words(alert), look), 8) +
                           right(shortly(number(alert, "since_s").value_or(0)), 4) + "  ";
  std::string row = beside(head, told, Ink::plain, look);
  if (const std::string because = text(alert, "covered_by"); !because.empty()) {
    return row + below("because of " + clean(because, look), look);
  }
  if (const std::string note = text(alert, "note"); !note.empty()) {
    return row + below("off: " + clean(note, look), look);
  }
  if (text(alert, "state") != "unseen") return row;
  return row + below(clean(text(alert, "means"), look), look) +
         below("do: " + clean(text(alert, "do"), look), look) +
         below("time: " + clean(text(alert, "have"), look), look);
}

std::string channel_row(const Json& channel, const Look& look) {
  const double waiting = number(channel, "waiting").value_or(0);
  const double given_up = number(channel, "given_up").value_or(0);
  if (waiting == 0 && given_up == 0) return "";
  std::string told = "channel " + clean(text(channel, "id"), look) + ": ";
  if (waiting > 0) told += counted(waiting, "message waits", "messages wait");
  if (given_up > 0) {
    told += (waiting > 0 ? ", " : "") + counted(given_up, "was given up", "were given up");
  }
  if (const std::string why = text(channel, "why"); !why.empty()) {
    told += " (" + clean(why, look) + ")";
  }
  const double next = number(channel, "next_try_s").value_or(0);
  if (next > 0) told += "; tried again in " + shortly(next);
  return beside("", told, Ink::warn, look);
}

}  // namespace

Shown show_alerts(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "alerts");
  if (!answer.ok()) return answer.error();
  std::string page;
  for (const Json& alert : by_rank(list(*answer, "alerts"))) page += listed_row(alert, look);
  if (page.empty()) page = "No alert stands.\n";
  if (yes(*answer, "flood")) {
    page += beside("", "Many come at once: they are told in one message each ten minutes.",
                   Ink::warn, look);
  }
  for (const Json& channel : list(*answer, "channels")) page += channel_row(channel, look);
  return page;
}

Shown show_alert_history(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "rows");
  if (!answer.ok()) return answer.error();
  const Json& rows = list(*answer, "rows");
  std::string page, day;
  for (auto row = rows.rbegin(); row != rows.rend(); ++row) {
    const std::string at = local_time(text(*row, "at"), look);
    if (const std::string new_day = day_of(at); new_day != day) {
      page += inked(new_day, Ink::strong, look) + "\n";
      day = new_day;
    }
    const std::string what = text(*row, "what");
    std::string told = clean(text(*row, "text"), look);
    const std::string who = clean(text(*row, "who"), look);
    if (who != "daemon") told += " (" + who + ")";
    page += beside("  " + padded(time_of_day(at), 9) + padded(clean(what, look), 10), told,
                   what == "raised" ? Ink::warn : Ink::plain, look);
  }
  return page.empty() ? "No alert came in that time.\n" : page;
}

Shown show_alert_worst(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "worst");
  if (!answer.ok()) return answer.error();
  std::string page;
  for (const Json& row : list(*answer, "worst")) {
    page += fmt::format(
        "{}  {}  last {}\n", right(fmt::format("{:.0f}", number(row, "raised").value_or(0)), 5),
        padded(clean(text(row, "key"), look), 36), local_time(text(row, "last"), look));
  }
  return page.empty() ? "No alert came in that time.\n" : page;
}

Shown show_alert_test(const std::string& json, const Look& look) {
  const auto answer = parsed(json, "channels");
  if (!answer.ok()) return answer.error();
  std::string page;
  for (const Json& row : list(*answer, "channels")) {
    const bool good = yes(row, "delivered");
    page += beside(padded(clean(text(row, "channel"), look), 12) + "  ",
                   good ? "delivered" : "not delivered: " + clean(text(row, "why"), look),
                   good ? Ink::plain : Ink::alarm, look);
  }
  return page;
}

}  // namespace tubwarden::cli
