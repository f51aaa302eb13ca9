#include "programs/cli/words_air.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>

#include "base/text.hpp"
#include "programs/cli/json_read.hpp"
#include "programs/cli/words_grow.hpp"
#include "settings/amount.hpp"

namespace tubwarden::cli {
namespace {

constexpr int kDecisionsMost = 500;
constexpr double kWaterLeast = 1.0;
constexpr double kWaterMost = 20'000.0;
constexpr Duration kEveryLeast = seconds(1);
constexpr milliseconds kUsualTime = hours(24);

[[noreturn]] void wrong(const char* option, const std::string& why) {
  throw CLI::ValidationError(option, why);
}

std::optional<double> number_in(std::string_view text, std::string_view& rest) {
  double value = 0.0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (code != std::errc() || !std::isfinite(value)) return std::nullopt;
  rest = text.substr(static_cast<std::size_t>(end - text.data()));
  while (rest.starts_with(' ')) rest.remove_prefix(1);
  return value;
}

}  // namespace

Result<double> parse_water(std::string_view text) {
  std::string_view unit;
  const auto number = number_in(text, unit);
  const double scale = unit == "mL" || unit == "ml" || unit == "g"  ? 1.0
                       : unit == "L" || unit == "l" || unit == "kg" ? 1000.0
                                                                    : 0.0;
  if (!number || scale == 0.0) {
    return Error{ErrorCode::bad_input,
                 fmt::format("'{}' is no amount of water; allowed: 200 mL, 1.5 L or 200 g", text)};
  }
  const double millilitres = *number * scale;
  if (millilitres < kWaterLeast || millilitres > kWaterMost) {
    return Error{ErrorCode::bad_input, fmt::format("'{}' is too {}; allowed: 1 mL to 20 L", text,
                                                   millilitres < kWaterLeast ? "little" : "much")};
  }
  return millilitres;
}

/// The moment an option names; what had to be chosen is noted.
WallTime AirWords::moment(const char* option, const std::string& text) {
  const auto when = parse_when(text, defaults_.now, defaults_.zone);
  if (!when.ok()) wrong(option, when.error().text);
  if (!when->note.empty()) command_.notes.push_back(when->note);
  return when->at;
}

void AirWords::add_why() {
  CLI::App* why = add_("why", "Why each actuator does what it does, or did.",
                       "tubwarden why tub-1 mister\n  tubwarden why tub-1 mister --last 20\n"
                       "  tubwarden why tub-1 --at 04:30");
  why->add_option("TUB", tub_, "the tub's name")->required();
  why->add_option("ACTUATOR", actuator_, "one of its actuators; all without");
  CLI::Option* last =
      why->add_option("--last", last_, "its last decisions; 50 without N")->expected(0, 1);
  last->type_name("[N]");
  why->add_option("--at", at_, "as it was then: 14:30, '2026-11-24 14:30', 2h (ago)")
      ->type_name("TIME");
  why->callback([this, last] {
    wants_last_ = last->count() > 0;
    understand_why();
  });
}

void AirWords::understand_why() {
  Json args = {{"tub", tub_}};
  if (!actuator_.empty()) args["actuator"] = actuator_;
  if (wants_last_ && !at_.empty()) wrong("--last", "and --at exclude each other");
  if (wants_last_) {
    std::string_view rest;
    const std::string given = last_.empty() ? "" : last_.front();
    const auto n = given.empty() ? std::optional<double>(50) : number_in(given, rest);
    if (!n || !rest.empty() || *n != std::floor(*n) || *n < 1 || *n > kDecisionsMost) {
      wrong("--last", fmt::format("'{}' is no number from 1 to {}", given, kDecisionsMost));
    }
    args["limit"] = *n;
    command_.wanted = Ask{"decisions", dumped(args), show_decisions};
  } else if (!at_.empty()) {
    args["at"] = rfc3339(moment("--at", at_));
    command_.wanted = Ask{"why_at", dumped(args), show_why_at};
  } else {
    command_.wanted = Ask{"why", dumped(args), show_why};
  }
}

void AirWords::add_history() {
  CLI::App* history =
      add_("history", "What the air of a tub, batch or chamber did.",
           "tubwarden history tub-1\n  tubwarden history B-07 --from 3d --every 6h\n"
           "  tubwarden history tub-1 --from 2026-11-01 --csv > november.csv");
  history->add_option("NAME", of_, "a tub, a batch or a chamber")->required();
  history->add_option("--from", from_, "since when; 24 hours before --to without")
      ->type_name("TIME");
  history->add_option("--to", to_, "until when; now without")->type_name("TIME");
  history->add_option("--every", every_, "a line for each such time: 5m, 1h, 1d")
      ->type_name("TIME");
  history->add_flag("--csv", csv_, "for a spreadsheet; each reading without --every");
  history->callback([this] { understand_history(); });
}

void AirWords::understand_history() {
  HistoryWish wish;
  wish.of = of_;
  wish.csv = csv_;
  wish.to = moment("--to", to_);
  wish.from = from_.empty() ? wish.to - kUsualTime : moment("--from", from_);
  if (wish.from >= wish.to) wrong("--from", "is not before --to");
  if (csv_ && command_.json) wrong("--csv", "and --json exclude each other");
  if (!every_.empty()) {
    const auto every = parse_duration(every_);
    if (!every.ok()) wrong("--every", every.error().text);
    if (*every < kEveryLeast) wrong("--every", "is at least 1s");
    wish.every = *every;
  }
  command_.wanted = wish;
}

void AirWords::add_move() {
  CLI::App* move = add_("move", "Says that a tub, a shelf or jars stand elsewhere now.",
                        "tubwarden move tub-1 closet\n  tubwarden move J-1..J-5 jars");
  move->add_option("NAME PLACE", last_, "a tub and its chamber, or jars and their shelf")
      ->required();
  move->callback([this] {
    if (last_.size() < 2) wrong("NAME PLACE", "say what stands where now: tub-1 closet");
    const std::string place = last_.back();
    last_.pop_back();
    const auto names = spread(last_);
    if (!names.ok()) wrong("NAME", names.error().text);
    Json args = {{"tub", names->front()}, {"chamber", place}};
    if (names->size() > 1) args["jars"] = *names;
    command_.wanted = Ask{"move", dumped(args), show_done};
  });
}

void AirWords::add_water() {
  CLI::App* water = add_("water", "Notes water given to a casing, or shows its book.",
                         "tubwarden water tub-1 200 mL\n  tubwarden water tub-1");
  water->add_option("TUB", tub_, "the tub's name")->required();
  water->add_option("AMOUNT", amount_, "how much: 200 mL, 1.5 L or 200 g; the book without");
  water->callback([this] {
    if (amount_.empty()) {
      command_.wanted = Ask{"book", dumped({{"tub", tub_}}), show_book};
      return;
    }
    const auto millilitres = parse_water(fmt::format("{}", fmt::join(amount_, " ")));
    if (!millilitres.ok()) wrong("AMOUNT", millilitres.error().text);
    command_.wanted =
        Ask{"water", dumped({{"tub", tub_}, {"millilitres", *millilitres}}), show_done};
  });
}

void AirWords::add_refill() {
  CLI::App* refill =
      add_("refill", "Says that a mister's tank is full again.", "tubwarden refill tub-1 mister");
  refill->add_option("TUB", tub_, "the tub's name")->required();
  refill->add_option("MISTER", actuator_, "the mister")->required();
  refill->callback([this] {
    command_.wanted = Ask{"refill", dumped({{"tub", tub_}, {"actuator", actuator_}}), show_done};
  });
}

}  // namespace tubwarden::cli
