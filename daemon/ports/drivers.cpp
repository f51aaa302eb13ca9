#include "ports/drivers.hpp"

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(OutputHealth health) {
  switch (health) {
    case OutputHealth::starting:
      return "starting";
    case OutputHealth::ready:
      return "ready";
    case OutputHealth::unconfirmed:
      return "unconfirmed";
    case OutputHealth::failed_safe:
      return "failed safe";
    case OutputHealth::unsafe:
      return "cannot be made safe";
  }
  ENSURE(false);
}

}  // namespace tubwarden
