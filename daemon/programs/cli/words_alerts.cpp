#include "programs/cli/words_alerts.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "settings/amount.hpp"

namespace tubwarden::cli {
namespace {

constexpr const char* kKeyHelp = "its number, its name, or a part only one has";

}  // namespace

void AlertWords::add_alerts(CLI::App& to) {
  CLI::App* alerts =
      add_(to, "alerts", "What is wrong; seen, quiet, off while you fix it.",
           "tubwarden alerts\n  tubwarden alerts seen 3\n  tubwarden alerts quiet 3 2h\n"
           "  tubwarden alerts off 3 --note \"the mister is at the bench\"");
  alerts->callback([this, alerts] {
    if (alerts->get_subcommands().empty()) command_.wanted = Ask{"alerts", "{}", show_alerts};
  });
  add_verbs(*alerts);
  add_past(*alerts);
  CLI::App* test = add_(*alerts, "test", "Sends a message on every channel, or on one.",
                        "tubwarden alerts test\n  tubwarden alerts test phone");
  test->add_option("CHANNEL", channel_, "one of channels: in tubwarden.yaml");
  test->callback([this] {
    command_.wanted = Ask{"alert_test", dumped({{"channel", channel_}}), show_alert_test};
  });
}

void AlertWords::add_verbs(CLI::App& alerts) {
  CLI::App* seen = add_(alerts, "seen", "You have seen it: it is not told again.",
                        "tubwarden alerts seen 3\n  tubwarden alerts seen all");
  seen->add_option("KEY", key_, "number or name, or all; without it: the only one");
  seen->callback([this] {
    command_.wanted = Ask{"alert_seen", dumped({{"key", key_}}), show_done};
  });

  CLI::App* quiet = add_(alerts, "quiet", "Nothing is told of it for a while, then anew.",
                         "tubwarden alerts quiet 3 2h\n  tubwarden alerts quiet 3 until 07:00");
  quiet->add_option("KEY", key_, kKeyHelp)->required();
  quiet->add_option("TIME", lasting_, "how long, 1m to 31d; or until and a time")->required();
  quiet->callback([this] { understand_quiet(); });

  CLI::App* off = add_(alerts, "off", "Off while you fix it, until you bring it back.",
                       "tubwarden alerts off 3 --note \"the mister is at the bench\"");
  off->add_option("KEY", key_, kKeyHelp)->required();
  off->add_option("--note", note_, "why; it stands in status until it is back")
      ->type_name("TEXT")
      ->required();
  off->callback([this] {
    command_.wanted = Ask{"alert_off", dumped({{"key", key_}, {"note", note_}}), show_done};
  });

  CLI::App* back = add_(alerts, "back", "Back from off or quiet.", "tubwarden alerts back 3");
  back->add_option("KEY", key_, kKeyHelp)->required();
  back->callback([this] {
    command_.wanted = Ask{"alert_back", dumped({{"key", key_}}), show_done};
  });
}

/// A time of day is the next one that comes.
void AlertWords::understand_quiet() {
  if (lasting_.front() != "until") {
    const std::string words = fmt::format("{}", fmt::join(lasting_, " "));
    command_.wanted = Ask{"alert_quiet", dumped({{"key", key_}, {"for", words}}), show_done};
    return;
  }
  const std::string words = fmt::format("{}", fmt::join(lasting_.begin() + 1, lasting_.end(), " "));
  const auto when = parse_when(words, defaults_.now, defaults_.zone);
  if (!when.ok()) throw CLI::ValidationError("TIME", when.error().text);
  WallTime until = when->at;
  const bool time_of_day = words.size() <= 8 && words.find(':') != std::string::npos;
  if (time_of_day && until <= defaults_.now) until += milliseconds(hours(24));
  if (until <= defaults_.now) {
    throw CLI::ValidationError("TIME", "'" + words + "' is over; allowed: a time to come, or 2h");
  }
  command_.wanted =
      Ask{"alert_quiet", dumped({{"key", key_}, {"until", rfc3339(until)}}), show_done};
}

void AlertWords::add_past(CLI::App& alerts) {
  CLI::App* past = add_(alerts, "history", "What came, what went, and who saw to it.",
                        "tubwarden alerts history --last 30d");
  past->add_option("--last", back_, "how far back; 7d without")->type_name("TIME");
  past->callback([this] {
    command_.wanted = Ask{"alert_history", dumped({{"days", days_back()}}), show_alert_history};
  });
  CLI::App* worst =
      add_(alerts, "worst", "The ten that came most often.", "tubwarden alerts worst --last 30d");
  worst->add_option("--last", back_, "how far back; 7d without")->type_name("TIME");
  worst->callback([this] {
    command_.wanted = Ask{"alert_worst", dumped({{"days", days_back()}}), show_alert_worst};
  });
}

double AlertWords::days_back() const {
  const auto given = parse_duration(back_);
  if (!given.ok()) throw CLI::ValidationError("--last", given.error().text);
  return seconds_of(*given) / 86400.0;
}

}  // namespace tubwarden::cli
