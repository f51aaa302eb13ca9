#include "core/grow/phase_truth.hpp"

#include <algorithm>

namespace tubwarden {

bool takes_back(const PhaseKnown& known, const std::string& phase) {
  return !known.previous_phase.empty() && phase == known.previous_phase &&
         known.since_change <= kCorrectionWindow;
}

PhaseVerdict judge_file(const std::optional<PhaseKnown>& known, const FileSays& file) {
  if (!known) return PhaseVerdict::unconfirmed;
  if (known->batch != file.batch) return PhaseVerdict::batch_changed;
  if (known->file_seen == file.phase) return PhaseVerdict::nothing;
  if (known->phase == file.phase) return PhaseVerdict::seen;
  if (!known->file_seen) return PhaseVerdict::ask;
  return takes_back(*known, file.phase) ? PhaseVerdict::correction : PhaseVerdict::change;
}

Duration elapsed_at(const Stamp& mark, Duration elapsed, const Stamp& now) {
  if (mark.boot_id == now.boot_id) return elapsed + (now.boot - mark.boot);
  const Duration this_boot = now.boot.time_since_epoch();
  if (!mark.wall_set || !now.wall_set || now.wall < mark.wall) return elapsed + this_boot;
  const Duration by_wall = now.wall - mark.wall;
  return elapsed + std::max(by_wall, this_boot);
}

}  // namespace tubwarden
