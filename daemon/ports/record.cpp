#include "ports/record.hpp"

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(PhaseCause cause) {
  switch (cause) {
    case PhaseCause::opened:
      return "opened";
    case PhaseCause::command:
      return "command";
    case PhaseCause::file:
      return "file";
    case PhaseCause::correction:
      return "correction";
    case PhaseCause::plan:
      return "plan";
  }
  ENSURE(false);
}

std::string_view name_of(AlertVerb verb) {
  switch (verb) {
    case AlertVerb::seen:
      return "seen";
    case AlertVerb::quiet:
      return "quiet";
    case AlertVerb::off:
      return "off";
    case AlertVerb::back:
      return "back";
  }
  ENSURE(false);
}

}  // namespace tubwarden
