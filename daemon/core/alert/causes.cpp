#include "core/alert/causes.hpp"

#include <iterator>

namespace tubwarden {
namespace {

/// The times are common practice of the trade, without a source of their own; where a threshold
/// has one it stands in the handbook.
constexpr CauseRow kRows[] = {
    {"broker_lost", "No sensor can be heard and no relay on the network be told anything.",
     "Look at the broker and the network: is its computer on, is the cable in?",
     "Outputs stand at their safe level. An hour does no harm; a day in fruiting does.", true},
    {"record_failed", "What happens now is not kept.",
     "Make room on the disk or change the card; enter anew what was not kept.",
     "The tubs go on as they are. See to it today.", true},
    {"record_slow", "The disk or card takes seconds for one entry.",
     "Look at the card's age and at what else writes to it.",
     "No tub suffers. A card that slows down often fails within weeks.", true},
    {"configuration", "A file of the configuration cannot be used as it stands.",
     "Mend the line that is named, then: tubwarden check",
     "What the error touches keeps what it had, for as long as it takes.", true},
    {"channel_*", "One of the ways you are told does not work: you may miss the next alert.",
     "Mend what the reason says, then: tubwarden alerts test",
     "What waits for it is kept for 24 hours.", false},
    {"phase_unconfirmed", "File and record do not agree on the phase, so nothing was switched.",
     "Say which is right: tubwarden phase TUB PHASE",
     "A tub without a phase is not kept at all: minutes for its air, hours for its bed.", true},
    {"phase_due", "The phase is over by its plan, and waits for you.",
     "Look at the tub, then: tubwarden phase TUB next",
     "Its band is kept meanwhile: a day or two seldom matter.", true},
    {"phase_went_on", "The plan went on to the next phase by itself.",
     "Look whether the tub is ready for it; take it back with: tubwarden phase TUB PHASE",
     "Nothing is wrong: it is told once.", true},
    {"place_unconfirmed", "File and record do not agree on where the tub stands.",
     "Say which is right: tubwarden move TUB CHAMBER", "Nothing was moved. See to it today.", true},
    {"file_gone", "A tub that is at work has lost its file.",
     "Put the file back, or end the phase first: tubwarden phase TUB empty",
     "It keeps what it had until the daemon is started again.", true},
    {"leader_unknown", "Several tubs share an air and none of them says what it should be.",
     "Name the leader in the chamber's file, or move the others out.",
     "Its outputs stay safe: minutes for the air, hours for the beds.", true},
    {"substrate_ceiling", "The bed works itself hot: spawn is harmed from 26.7 C.",
     "Cool the tub now: open it, move it to a cooler room.",
     "An hour or two; a bed that runs away gains a degree in that time.", true},
    {"output_*", "An output does not do what it is told, or nobody knows whether it does.",
     "Look at its power, its wiring and its address; then: tubwarden outputs",
     "It is held safe where that can be done. What it should do is not done meanwhile.", false},
    {"actuator_*_no_effect", "It runs, and the air does not answer.",
     "Look at its tank, its plug, and whether it mists, turns or gets warm.",
     "Hours: the air is drifting as if the output were not there.", true},
    {"sensor_*_stale", "Nobody knows what this sensor's air or bed is like.",
     "Look at its power, its radio and its wire.",
     "What it drives stands safe: an hour or two in fruiting, a day in spawn run.", true},
    {"sensor_*_jumps", "Its readings leap as no air does.",
     "Look at its plug and wire, and whether another device speaks on its topic.",
     "It is not believed meanwhile. See to it today.", true},
    {"sensor_*_stuck", "It stood still through a run that should have moved it.",
     "Breathe on it: if it does not move, replace it; if it does, look at the output.",
     "What it drives stands safe: an hour or two in fruiting, a day in spawn run.", true},
    {"sensor_*_condensed", "It is wet, and says the top of its range whatever the air does.",
     "Dry it and hang it where no mist falls.",
     "It is not believed meanwhile. It often dries by itself within hours.", true},
    {"surface_wet", "Caps or casing have been wet for long: wet caps blotch.",
     "Let drier air in; water less, or earlier in the day.",
     "Blotch shows after some hours of standing wet.", true},
    {"humidity_low", "The air is too dry: pins stall and caps crack.",
     "Look at the mister's water and wiring, and whether the lid is closed.",
     "Hours; pins are the first to suffer.", true},
    {"humidity_high", "The air is too wet: caps stay wet and blotch.",
     "Look whether a mister leaks or runs on; let fresh air in.", "Half a day.", true},
    {"humidity_leaving", "The air is about to leave its band, whatever is called.",
     "Look at water, lid and fan before it has.", "As long as the message says.", true},
    {"humidity_disagree", "Two sensors of one air say different things.",
     "Hang them side by side; check both over a saturated salt.",
     "The daemon goes by those it believes. This week.", true},
    {"air_temperature_low", "The air is too cold for its phase.",
     "Look at the heater and the room.", "Hours: growth slows, nothing dies soon.", true},
    {"air_temperature_high", "The air is too warm for its phase.",
     "Look at the room, the heater and the fan.",
     "Hours; a bed follows its air, and above 26.7 C spawn is harmed.", true},
    {"air_temperature_leaving", "The air is about to leave its band, whatever is called.",
     "Look at heater, fan and room before it has.", "As long as the message says.", true},
    {"air_temperature_disagree", "Two sensors of one air say different things.",
     "Hang them side by side for ten minutes.", "The daemon goes by those it believes. This week.",
     true},
    {"substrate_temperature_low", "The bed is too cold: spawn hardly grows.",
     "Look at the heat mat and the sensor in the substrate.", "A day.", true},
    {"substrate_temperature_high", "The bed is too warm: spawn is harmed from 26.7 C.",
     "Cool the tub: open it, or move it to a cooler room.", "An hour or two.", true},
    {"substrate_temperature_leaving", "The bed is about to leave its band, whatever is called.",
     "Look at the mat and the room before it has.", "As long as the message says.", true},
    {"substrate_temperature_disagree", "Two sensors of one bed say different things.",
     "Put them side by side for an hour.", "The daemon goes by those it believes. This week.",
     true},
    {"co2_low", "Less CO2 than there is outdoors: the sensor is wrong.",
     "Look at the sensor; set it anew in outdoor air.", "No haste; CO2 is not kept well meanwhile.",
     true},
    {"co2_high", "The air is used up: pins stay away, stems grow long.",
     "Look at the fan and its filter. Air the room before you lean in.", "Some hours.", true},
    {"co2_leaving", "CO2 is about to leave its band, whatever is called.",
     "Look at the fan and its filter before it has.", "As long as the message says.", true},
    {"co2_disagree", "Two sensors of one air say different things.",
     "Hang them side by side; set both anew in outdoor air.",
     "The daemon goes by those it believes. This week.", true},
    {"dew_point_low", "The air holds little water for its warmth.",
     "Look at the mister's water and the lid.", "Hours.", true},
    {"dew_point_high", "Water will fall on whatever is a little cooler than the air.",
     "Let drier air in, or warm what is cold.", "Hours; standing water blotches caps.", true},
    {"humidity_ratio_low", "The air holds too little water.",
     "Look at the mister's water and the lid.", "Hours.", true},
    {"humidity_ratio_high", "The air holds too much water.", "Let drier air in.", "Half a day.",
     true},
    {"bed_drying_low", "The air takes hardly any water from the bed: it stays wet.",
     "Let drier air in.", "Half a day.", true},
    {"bed_drying_high", "The air draws water hard from the bed: the casing dries.",
     "Look at mister and lid; look whether the casing wants water.", "Hours.", true},
};

constexpr CoverRow kCovers[] = {
    // root, what it covers, same place, same name
    {"broker_lost", "sensor_*_stale", false, false},
    {"broker_lost", "output_*", false, false},
    {"broker_lost", "actuator_*_no_effect", false, false},
    {"broker_lost", "*_leaving", false, false},
    {"sensor_*_stale", "*_leaving", true, false},
    {"sensor_*_stale", "actuator_*_no_effect", true, false},
    {"sensor_*_stuck", "*_leaving", true, false},
    {"sensor_*_stuck", "*_disagree", true, false},
    {"sensor_*_stuck", "actuator_*_no_effect", true, false},
    {"sensor_*_condensed", "*_leaving", true, false},
    {"sensor_*_condensed", "*_disagree", true, false},
    {"sensor_*_jumps", "*_disagree", true, false},
    {"output_*", "actuator_*_no_effect", true, true},
    {"output_*", "*_leaving", true, false},
    {"actuator_*_no_effect", "*_leaving", true, false},
    {"substrate_ceiling", "substrate_temperature_high", true, false},
    {"substrate_ceiling", "substrate_temperature_leaving", true, false},
    {"record_failed", "record_slow", true, false},
};

}  // namespace

std::span<const CauseRow> cause_table() { return kRows; }
std::span<const CoverRow> cover_table() { return kCovers; }

std::optional<std::string_view> name_in(std::string_view pattern, std::string_view cause) {
  const std::size_t star = pattern.find('*');
  if (star == std::string_view::npos) {
    return pattern == cause ? std::optional(std::string_view()) : std::nullopt;
  }
  const std::string_view before = pattern.substr(0, star), behind = pattern.substr(star + 1);
  if (cause.size() <= before.size() + behind.size()) return std::nullopt;
  if (!cause.starts_with(before) || !cause.ends_with(behind)) return std::nullopt;
  return cause.substr(before.size(), cause.size() - before.size() - behind.size());
}

const CauseRow* cause_row(std::string_view cause) {
  for (const CauseRow& row : kRows) {
    if (name_in(row.pattern, cause)) return &row;
  }
  return nullptr;
}

bool covers(const AlertKey& root, const AlertKey& covered) {
  for (const CoverRow& row : kCovers) {
    const auto one = name_in(row.root, root.cause);
    const auto other = name_in(row.covered, covered.cause);
    if (!one || !other) continue;
    if (row.same_place && root.place != covered.place) continue;
    if (row.same_name && *one != *other) continue;
    return true;
  }
  return false;
}

CoverRows cover_rows(std::string_view cause) {
  static_assert(std::size(kCovers) <= 32);
  CoverRows rows;
  std::uint32_t bit = 1;
  for (const CoverRow& row : kCovers) {
    if (name_in(row.root, cause)) rows.as_root |= bit;
    if (name_in(row.covered, cause)) rows.as_covered |= bit;
    bit <<= 1;
  }
  return rows;
}

bool can_be_covered(std::string_view cause) { return cover_rows(cause).as_covered != 0; }

}  // namespace tubwarden
