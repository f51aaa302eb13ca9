#include "core/chamber/hand.hpp"

#include "base/ensure.hpp"

namespace tubwarden {

std::string_view name_of(HandKind kind) {
  switch (kind) {
    case HandKind::attend:
      return "attend";
    case HandKind::keep_at:
      return "keep_at";
    case HandKind::trial:
      return "trial";
  }
  ENSURE(false);
}

std::optional<HandKind> hand_kind_named(std::string_view name) {
  for (const HandKind kind : {HandKind::attend, HandKind::keep_at, HandKind::trial}) {
    if (name_of(kind) == name) return kind;
  }
  return std::nullopt;
}

}  // namespace tubwarden
