#include "programs/tubwardend/past.hpp"

#include <optional>
#include <utility>

namespace tubwarden {

Result<Past> read_past(Record& record) {
  Past past;
  std::optional<Error> failed;
  const auto take = [&](auto& to, auto read) {
    if (read.ok()) {
      to = std::move(*read);
    } else if (!failed) {
      failed = read.error();
    }
  };
  take(past.tubs, record.tubs());
  take(past.desk, record.desk());
  take(past.alerts, record.standing_alerts());
  take(past.outbox, record.outbox());
  take(past.hands, record.open_hands());
  take(past.learned, record.learned());
  take(past.books, record.books());
  take(past.grown, record.grow_entries());
  take(past.phases, record.all_phases());
  take(past.drills, record.last_acts(kDrilled));
  take(past.mornings, record.last_acts(kMorningTold));
  if (failed) return *failed;
  return past;
}

void give_past(Past past, Warden& warden) {
  warden.remember(std::move(past.tubs));
  warden.remember_desk(past.desk);
  warden.remember_alerts(std::move(past.alerts));
  warden.remember_outbox(std::move(past.outbox));
  warden.remember_hands(std::move(past.hands));
  warden.remember_learned(std::move(past.learned));
  warden.remember_books(std::move(past.books));
  warden.remember_grow(std::move(past.grown), past.phases);
  warden.remember_acts(past.drills, past.mornings);
}

}  // namespace tubwarden
