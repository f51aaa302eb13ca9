#include "core/sensing/doubt.hpp"

#include "base/ensure.hpp"

namespace tubwarden {
namespace {

struct Row {
  Doubt doubt;
  std::string_view cause, word, advice;
};

constexpr Row kRows[] = {
    {Doubt::none, "", "", ""},
    {Doubt::late, "", "late", "Look at its power and its radio; it may come back by itself."},
    {Doubt::jumping, "jumps", "jumping",
     "Look at its plug and its wire, and whether another device speaks on its topic."},
    {Doubt::stuck, "stuck", "stuck",
     "Breathe on it: if it does not move, restart or replace it. If it moves, look at the output "
     "that ran: its water, its power."},
    {Doubt::condensed, "condensed", "wet",
     "Dry it and hang it where no mist falls and no drop runs; it comes back by itself once it "
     "leaves the top of its range."},
    {Doubt::disagrees, "disagree", "disagreeing",
     "Hang them side by side for ten minutes. If they still differ, check both over a saturated "
     "salt. If they agree, they hang in two different airs."},
};

const Row& row(Doubt doubt) {
  for (const Row& r : kRows) {
    if (r.doubt == doubt) return r;
  }
  ENSURE(false);
}

}  // namespace

std::string_view cause_of(Doubt doubt) { return row(doubt).cause; }
std::string_view word_of(Doubt doubt) { return row(doubt).word; }
std::string_view advice_for(Doubt doubt) { return row(doubt).advice; }

}  // namespace tubwarden
