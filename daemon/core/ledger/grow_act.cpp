#include "core/ledger/grow_act.hpp"

namespace tubwarden {
namespace {

struct Kind {
  std::string_view operator()(const CultureReceived&) const { return "culture_received"; }
  std::string_view operator()(const CultureOpened&) const { return "culture_opened"; }
  std::string_view operator()(const CultureDiscarded&) const { return "culture_discarded"; }
  std::string_view operator()(const Sterilised&) const { return "sterilised"; }
  std::string_view operator()(const JarsAdded&) const { return "jars_added"; }
  std::string_view operator()(const JarsInoculated&) const { return "jars_inoculated"; }
  std::string_view operator()(const JarLookedAt&) const { return "jar_looked_at"; }
  std::string_view operator()(const JarShaken&) const { return "jar_shaken"; }
  std::string_view operator()(const JarsMoved&) const { return "jars_moved"; }
  std::string_view operator()(const JarContaminated&) const { return "jar_contaminated"; }
  std::string_view operator()(const JarDiscarded&) const { return "jar_discarded"; }
  std::string_view operator()(const SubstrateMade&) const { return "substrate_made"; }
  std::string_view operator()(const TubSpawned&) const { return "tub_spawned"; }
  std::string_view operator()(const TubCased&) const { return "tub_cased"; }
  std::string_view operator()(const PinsSeen&) const { return "pins_seen"; }
  std::string_view operator()(const Picked&) const { return "picked"; }
  std::string_view operator()(const FlushCleaned&) const { return "flush_cleaned"; }
  std::string_view operator()(const TubContaminated&) const { return "tub_contaminated"; }
  std::string_view operator()(const Observed&) const { return "observed"; }
  std::string_view operator()(const UpkeepDone&) const { return "upkeep_done"; }
  std::string_view operator()(const Undone&) const { return "undone"; }
};

}  // namespace

std::string_view kind_of(const GrowAct& act) { return std::visit(Kind{}, act); }

std::string tub_of(const GrowAct& act) {
  return std::visit(
      [](const auto& a) -> std::string {
        if constexpr (requires { a.tub; }) {
          return a.tub;
        } else {
          return "";
        }
      },
      act);
}

std::string batch_of(const GrowAct& act) {
  return std::visit(
      [](const auto& a) -> std::string {
        if constexpr (requires { a.batch; }) {
          return a.batch;
        } else {
          return "";
        }
      },
      act);
}

}  // namespace tubwarden
