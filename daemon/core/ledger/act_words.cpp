#include <fmt/format.h>

#include <charconv>

#include "base/text.hpp"
#include "core/ledger/grow_act.hpp"

namespace tubwarden {
namespace {

std::string jars_told(const std::vector<std::string>& jars) {
  return jars.size() == 1 ? "jar " + jars.front()
                          : fmt::format("{} jars, {}", jars.size(), told_ids(jars));
}

std::string behind(const std::string& lead, const std::string& text) {
  return text.empty() ? "" : lead + text;
}

std::string dosed(double millilitres, const std::string& culture) {
  return fmt::format("{} mL each of {}", trimmed(millilitres), culture);
}

struct Teller {
  std::string operator()(const CultureReceived& a) const {
    return fmt::format("culture {} received: {} mL{}{}", a.culture, trimmed(a.millilitres),
                       behind(" of ", a.strain), behind(" from ", a.source));
  }
  std::string operator()(const CultureOpened& a) const {
    return fmt::format("culture {} opened", a.culture);
  }
  std::string operator()(const CultureDiscarded& a) const {
    return fmt::format("what was left of culture {} was thrown away{}", a.culture,
                       behind(": ", a.why));
  }
  std::string operator()(const Sterilised& a) const {
    std::string text = fmt::format("sterilising run {}{}: held for {}", a.run,
                                   behind(" of ", a.what), spoken(a.hold));
    if (a.gauge_kpa) text += fmt::format(" at {} kPa on the gauge", trimmed(*a.gauge_kpa, 0));
    if (a.f0_minutes) text += fmt::format(", F0 {} min", trimmed(*a.f0_minutes, 1));
    return text;
  }
  std::string operator()(const JarsAdded& a) const {
    const std::string of = behind(" of ", a.grain);
    std::string text = a.jars.size() == 1
                           ? "jar " + a.jars.front() + of
                           : fmt::format("{} jars{}, {}", a.jars.size(), of, told_ids(a.jars));
    if (a.fill_g) text += fmt::format(", {} g each", trimmed(*a.fill_g, 0));
    if (!a.vented) text += ", lid closed";
    text += behind(", from run ", a.run);
    if (a.culture.empty()) {
      text += ": filled, not inoculated yet";
    } else {
      text += ": inoculated with " + dosed(a.dose_ml, a.culture);
    }
    return text + behind("; on ", a.shelf);
  }
  std::string operator()(const JarsInoculated& a) const {
    return fmt::format("{}: inoculated with {}", jars_told(a.jars), dosed(a.dose_ml, a.culture));
  }
  std::string operator()(const JarLookedAt& a) const {
    return fmt::format("jar {}: {} % grown through", a.jar, trimmed(a.grown_pct, 0));
  }
  std::string operator()(const JarShaken& a) const { return fmt::format("jar {} shaken", a.jar); }
  std::string operator()(const JarsMoved& a) const {
    return fmt::format("{} moved to {}", jars_told(a.jars), a.shelf);
  }
  std::string operator()(const JarContaminated& a) const {
    return fmt::format("jar {} is contaminated{}", a.jar, behind(": ", a.seen));
  }
  std::string operator()(const JarDiscarded& a) const {
    return fmt::format("jar {} discarded{}", a.jar, behind(": ", a.why));
  }
  std::string operator()(const SubstrateMade& a) const {
    return fmt::format("substrate {} made{}: {} kg dry and {} kg of water", a.mix,
                       behind(" of ", a.of), trimmed(a.dry_kg), trimmed(a.water_kg));
  }
  std::string operator()(const TubSpawned& a) const {
    std::string text = fmt::format("{} mixed into {} kg of substrate in {}", jars_told(a.jars),
                                   trimmed(a.substrate_kg), a.tub);
    text += behind(", mix ", a.mix);
    if (a.dry_kg) text += fmt::format(", {} kg of it dry", trimmed(*a.dry_kg));
    if (a.surface_m2) text += fmt::format(", surface {} m2", trimmed(*a.surface_m2, 3));
    return text;
  }
  std::string operator()(const TubCased& a) const {
    std::string text = a.tub + " cased" + behind(" with ", a.with);
    if (a.depth_mm) text += fmt::format(", {} mm deep", trimmed(*a.depth_mm, 0));
    return text;
  }
  std::string operator()(const PinsSeen& a) const {
    return fmt::format("pins seen in {}, the largest {} mm", a.tub, trimmed(a.size_mm, 1));
  }
  std::string operator()(const Picked& a) const {
    std::string text = fmt::format("{} g picked in {}", trimmed(a.grams, 0), a.tub);
    if (a.count) text += fmt::format(", {} mushrooms", trimmed(*a.count, 0));
    return text;
  }
  std::string operator()(const FlushCleaned& a) const {
    return fmt::format("flush of {} picked out and cleaned", a.tub);
  }
  std::string operator()(const TubContaminated& a) const {
    return fmt::format("{} is contaminated{}", a.tub, behind(": ", a.seen));
  }
  std::string operator()(const Observed& a) const { return a.of + ": " + a.text; }
  std::string operator()(const UpkeepDone& a) const { return a.of + " " + a.what; }
  std::string operator()(const Undone& a) const {
    return fmt::format("entry {} taken back", a.entry);
  }
};

/// "J-12" as "J-" and 12.
std::pair<std::string_view, std::int64_t> split(std::string_view id) {
  const std::size_t at = id.find_last_not_of("0123456789") + 1;
  std::int64_t number = -1;
  const bool plain = at < id.size() && (id[at] != '0' || at + 1 == id.size());
  if (plain) std::from_chars(id.data() + at, id.data() + id.size(), number);
  return {id.substr(0, at), number};
}

}  // namespace

std::string told(const GrowAct& act) { return std::visit(Teller{}, act); }

std::string told_ids(const std::vector<std::string>& ids) {
  std::vector<std::string> parts;
  for (std::size_t i = 0; i < ids.size();) {
    std::size_t end = i + 1;
    const auto [lead, first] = split(ids[i]);
    while (end < ids.size() && first >= 0 &&
           split(ids[end]) == std::pair(lead, first + static_cast<std::int64_t>(end - i))) {
      ++end;
    }
    if (end - i > 2) {
      parts.push_back(ids[i] + " to " + ids[end - 1]);
    } else {
      end = i + 1;
      parts.push_back(ids[i]);
    }
    i = end;
  }
  if (parts.empty()) return "";
  std::string text = parts.front();
  for (std::size_t i = 1; i < parts.size(); ++i) {
    text += (i + 1 == parts.size() ? " and " : ", ") + parts[i];
  }
  return text;
}

}  // namespace tubwarden
