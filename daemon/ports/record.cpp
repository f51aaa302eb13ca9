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

}  // namespace tubwarden
