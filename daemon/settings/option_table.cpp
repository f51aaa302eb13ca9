#include "settings/option_table.hpp"

#include <algorithm>

namespace tubwarden {
namespace {

using T = OptionType;
using U = UnitKind;

constexpr double kDay = 86400;

constexpr Bounds within(double low, double high) { return {low, high}; }

// A section's rows stand together.
constexpr OptionRow kRows[] = {
    // tubwarden.yaml
    {"site", "site", T::id, U::none, kAny, kRequired, "",
     "The name of the place; the topics written lie under tubwarden/SITE/."},
    {"site", "broker", T::map, U::none, kAny, kRequired, "broker", "The message broker."},
    {"site", "record", T::map, U::none, kAny, "", "record", "Where the record is kept."},
    {"site", "control", T::map, U::none, kAny, "", "control",
     "Where the command line finds the daemon."},
    {"site", "sheet", T::map, U::none, kAny, "", "sheet",
     "The page in a browser, and its interface for programs. Without it there is none; `sheet: {}` "
     "has it for this board alone."},
    {"site", "hosts", T::map, U::none, kAny, "", "hosts",
     "What each process that holds a plugin may use."},
    {"site", "room", T::map, U::none, kAny, "", "room",
     "The room around the chambers. Without it the fan is never called for humidity, temperature "
     "or substrate ceiling."},
    {"site", "morning", T::clock, U::none, kAny, "07:00", "",
     "When the grower is told what is due today, in one message and only if something is; local "
     "time of day."},
    {"site", "channels", T::list, U::none, kAny, "", "channel", "The ways the grower is told."},
    {"site", "alerts", T::map, U::none, kAny, "", "alerts", "When the grower is told."},
    {"broker", "url", T::text, U::none, kAny, kRequired, "",
     "mqtt://HOST[:PORT], or mqtts://HOST[:PORT] for TLS, where the host name is verified."},
    {"broker", "user_file", T::path, U::none, kAny, "", "",
     "A file of two lines, name and password, for the daemon alone to read."},
    {"broker", "ca_file", T::path, U::none, kAny, "", "",
     "PEM of the authority that signed the broker's certificate."},
    {"broker", "cert_file", T::path, U::none, kAny, "", "",
     "PEM of our own certificate, where the broker asks for one; goes with key_file."},
    {"broker", "key_file", T::path, U::none, kAny, "", "", "PEM of that certificate's key."},
    {"record", "folder", T::path, U::none, kAny, "/var/lib/tubwarden", "",
     "The folder of batches and readings; read at a start."},
    {"record", "keep_readings", T::amount, U::duration, within(kDay, 3650 * kDay), "90d", "",
     "How long every reading and every run of an output is kept; read at a start. Batches, phases, "
     "acts and alerts are kept for good."},
    {"record", "keep_means", T::amount, U::duration, within(kDay, 3650 * kDay), "3650d", "",
     "How long the least, mean and greatest of each five minutes is kept; not shorter than "
     "keep_readings; read at a start."},
    {"record", "keep_decisions", T::amount, U::duration, within(kDay, 3650 * kDay), "60d", "",
     "How long it is kept what each output was told to do, and why; read at a start."},
    {"control", "socket", T::path, U::none, kAny, "/run/tubwarden/control.sock", "",
     "The path of the control socket; read at a start."},
    {"sheet", "listen", T::text, U::none, kAny, "127.0.0.1:8437", "",
     "ADDRESS:PORT, or [ADDRESS]:PORT; 0.0.0.0 is each of this board. Another address than "
     "loopback needs tokens_file; read at a start."},
    {"sheet", "tokens_file", T::path, U::none, kAny, "", "",
     "The tokens, as `tubwarden sheet token add` writes them. With it everybody needs one, on "
     "loopback, too; read at a start, and its tokens at once."},
    {"sheet", "cert_file", T::path, U::none, kAny, "", "",
     "PEM of the sheet's certificate and of those that signed it, for TLS; goes with key_file; "
     "read at a start."},
    {"sheet", "key_file", T::path, U::none, kAny, "", "",
     "PEM of that certificate's key, without a password; read at a start."},
    {"sheet", "name", T::text, U::none, kAny, "", "",
     "A host name by which browsers call the sheet, beside its address, localhost and the board's "
     "name; read at a start."},
    {"sheet", "proxy", T::text, U::none, kAny, "", "",
     "The address of a reverse proxy, whose X-Forwarded-For and X-Forwarded-Proto are believed; "
     "nobody's where it is not given; read at a start."},
    {"hosts", "memory_mib", T::integer, U::none, within(32, 4096), "128", "",
     "Its memory, and that of each program it starts, in MiB; read at a start."},
    {"hosts", "cpu_percent", T::integer, U::none, within(2, 100), "25", "",
     "Its share of one core over a minute, in percent; one that burns more is ended, and started "
     "anew as after a crash; read at a start."},
    {"room", "temperature", T::either, U::temperature, within(-40, 60), "", "room_sensor",
     "A fixed temperature, or a sensor."},
    {"room", "humidity", T::either, U::humidity, within(0, 100), "", "room_sensor",
     "A fixed relative humidity, or a sensor."},
    {"room", "co2", T::either, U::co2, within(0, 50000), "", "room_sensor",
     "A fixed CO2 level, or a sensor; 420 ppm, the outdoor air, where it is not given."},
    {"room_sensor", "topic", T::topic, U::none, kAny, kRequired, "",
     "Where the sensor speaks: a plain number, or JSON."},
    {"room_sensor", "at", T::pointer, U::none, kAny, "", "",
     "Where in the payload (RFC 6901); empty, the default, is the whole of it."},
    {"room_sensor", "unit", T::word, U::none, kAny, "", "C|F|K|%|ppm",
     "The unit of the raw number; C, % or ppm where it is not given."},
    {"room_sensor", "stale_after", T::amount, U::duration, within(1, kDay), "10m", "",
     "Silent for longer, the room counts as unknown."},
    {"channel", "id", T::id, U::none, kAny, kRequired, "", "The channel's name."},
    {"channel", "plugin", T::id, U::none, kAny, kRequired, "", "The plugin that delivers."},
    {"channel", "wiring", T::plugin, U::none, kAny, kRequired, "", "The plugin's own options."},
    {"channel", "ranks", T::list, U::none, kAny, "", "now|today|noted",
     "Which alerts it is told; all where it is not given."},
    {"channel", "after_unseen", T::amount, U::duration, within(60, kDay), "", "",
     "Told only of what nobody has seen for so long: a second phone, a neighbour."},
    {"channel", "heartbeat", T::map, U::none, kAny, "", "heartbeat",
     "A regular message that all is alive, for a service that tells you when it stays away. Such a "
     "channel is told of alerts only where it names ranks."},
    {"heartbeat", "every", T::amount, U::duration, within(10, kDay), kRequired, "",
     "How often; the service should wait for twice as long."},
    {"alerts", "again_every", T::amount_or_never, U::duration, within(300, 7 * kDay), "4h", "",
     "What nobody has seen is told again so often, or never; what is only noted never is."},
    {"alerts", "quiet_hours", T::map, U::none, kAny, "", "quiet_hours",
     "A time of day in which the less pressing waits for the morning."},
    {"quiet_hours", "from", T::clock, U::none, kAny, kRequired, "", "Its beginning, local time."},
    {"quiet_hours", "to", T::clock, U::none, kAny, kRequired, "", "Its end: the held is told."},
    {"quiet_hours", "hold", T::list, U::none, kAny, "[today, noted]", "now|today|noted",
     "The ranks that wait; now only where you write it."},
    // profiles/*.yaml
    {"profile", "profile", T::id, U::none, kAny, kRequired, "", "The name of the grow plan."},
    {"profile", "phases", T::list, U::none, kAny, kRequired, "phase", "Its phases."},
    {"phase", "phase", T::id, U::none, kAny, kRequired, "",
     "grain, colonization, casing, pinning, fruiting, empty, or a name of your own. empty controls "
     "nothing and takes no other key."},
    {"phase", "substrate_temperature", T::map, U::none, kAny, "", "phase_quantity",
     "The temperature in the substrate. A phase keeps substrate or air, not both; the other may "
     "warn."},
    {"phase", "air_temperature", T::map, U::none, kAny, "", "phase_quantity",
     "The temperature of the air."},
    {"phase", "humidity", T::map, U::none, kAny, "", "phase_quantity",
     "The relative humidity of the air."},
    {"phase", "co2", T::map, U::none, kAny, "", "phase_quantity", "The CO2 of the air."},
    {"phase", "dew_point", T::map, U::none, kAny, "", "phase_derived",
     "Where the air would shed water. It takes an air temperature and a humidity to know."},
    {"phase", "humidity_ratio", T::map, U::none, kAny, "", "phase_derived",
     "Grams of water a kilogram of dry air. It takes the same two."},
    {"phase", "bed_drying", T::map, U::none, kAny, "", "phase_derived",
     "How hard the air draws water from the bed: the vapour pressure deficit between the wet "
     "casing "
     "at the substrate's temperature and the air. It takes the substrate's temperature as well."},
    {"phase", "fresh_air", T::map, U::none, kAny, "", "fresh_air",
     "The fresh-air floor, under whatever else calls the fan."},
    {"phase", "drying", T::map, U::none, kAny, "", "drying",
     "Wet surfaces, from pinning on: caps that stay wet blotch."},
    {"phase", "light", T::map, U::none, kAny, "", "light",
     "Hours of light; none where it is not given."},
    {"phase", "expect", T::map, U::none, kAny, "", "expect", "How long the phase usually lasts."},
    {"phase", "stage_of", T::id, U::none, kAny, "", "",
     "The phase with which its loop of flushes begins; entering that again is the next flush."},
    {"phase", "next", T::name_or_map, U::none, kAny, "", "next",
     "The phase that usually follows, one of this profile; or a section that says when it is due."},
    {"phase", "settle", T::map, U::none, kAny, "", "settle",
     "How long warn limits wait after a change of phase. Ceilings never wait."},
    {"next", "phase", T::id, U::none, kAny, kRequired, "",
     "The phase that follows; one of this profile."},
    {"next", "after", T::amount, U::duration, within(1, 3650 * kDay), "", "",
     "Due once the phase has lasted so long; with `when`, both must hold."},
    {"next", "when", T::map, U::none, kAny, "", "next_when", "Due once all of these hold."},
    {"next", "how", T::word, U::none, kAny, "ask", "ask|go",
     "ask: an alert says that it is due. go: the tub goes on by itself, but never to empty."},
    {"next_when", "substrate_temperature", T::map, U::none, kAny, "", "condition", "In the bed."},
    {"next_when", "air_temperature", T::map, U::none, kAny, "", "condition", "Of the air."},
    {"next_when", "humidity", T::map, U::none, kAny, "", "condition", "Relative humidity."},
    {"next_when", "co2", T::map, U::none, kAny, "", "condition", "The CO2 of the air."},
    {"condition", "below", T::amount, U::by_quantity, kAny, "", "",
     "It must be under this; with `above`, between both."},
    {"condition", "above", T::amount, U::by_quantity, kAny, "", "", "It must be over this."},
    {"condition", "for", T::amount, U::duration, within(0, 30 * kDay), "10m", "",
     "So long without a gap: a stale reading, hands in the tub or a restart begin it anew."},
    {"phase_quantity", "keep", T::pair, U::by_quantity, kAny, "", "",
     "[low, high]. A raising actuator starts below low + a quarter of the width, a lowering one "
     "above high - a quarter; both stop at the middle."},
    {"phase_quantity", "keep_above", T::amount, U::by_quantity, kAny, "", "",
     "Humidity only: the raising half of [X, 100 %]."},
    {"phase_quantity", "keep_below", T::amount, U::by_quantity, kAny, "", "",
     "CO2 only: the lowering half of [room, X]. Not in grain, colonization and casing, where "
     "nothing calls for air because of CO2."},
    {"phase_quantity", "warn", T::map, U::none, kAny, "", "warn",
     "Where the grower is told; never inside the band."},
    {"phase_quantity", "glide", T::amount, U::duration, within(0, 14 * kDay), "0s", "",
     "The time in which the band of a keep: [low, high] moves from what was measured to what is "
     "asked."},
    {"phase_derived", "keep", T::pair, U::by_quantity, kAny, "", "",
     "[low, high], kept through the humidity that it means at the temperatures of the moment; not "
     "beside a keep of humidity, and one of the three only."},
    {"phase_derived", "warn", T::map, U::none, kAny, "", "warn",
     "Where the grower is told; never inside the band."},
    {"warn", "outside", T::pair, U::by_quantity, kAny, "", "", "[below, above] in one."},
    {"warn", "below", T::amount, U::by_quantity, kAny, "", "", "Told when it is lower than this."},
    {"warn", "above", T::amount, U::by_quantity, kAny, "", "", "Told when it is higher than this."},
    {"warn", "on_delay", T::amount, U::duration, within(0, kDay), "10m", "",
     "It must stay outside for so long."},
    {"warn", "off_delay", T::amount, U::duration, within(0, kDay), "1m", "",
     "It is over once it has been back inside for so long."},
    {"warn", "deadband", T::difference, U::by_quantity, kAny, "", "",
     "It is over only when it is back inside by so much; 0 where it is not given."},
    {"warn", "leaving_within", T::amount, U::duration, within(60, 3 * 3600), "", "",
     "Told when it drifts out of its band within this, whatever is called; needs a keep, and is "
     "not "
     "for derived values."},
    {"fresh_air", "at_least", T::map, U::none, kAny, kRequired, "at_least",
     "So many air changes each so often; air moved for any reason counts."},
    {"at_least", "changes", T::number, U::none, within(0.01, 100), kRequired, "",
     "Air changes of the net volume."},
    {"at_least", "every", T::amount, U::duration, within(60, kDay), kRequired, "",
     "In each such window."},
    {"drying", "after_watering", T::amount, U::duration, within(60, kDay), "", "",
     "After `tubwarden water` the mister rests and the fan runs for a quarter of each minute, "
     "until "
     "the surfaces are dry, but no longer than this. It takes `room:`, and the fan's limits hold."},
    {"drying", "warn_wet_for", T::amount, U::duration, within(600, 7 * kDay), "", "",
     "Told when surfaces could not dry for so long, as reckoned from humidity and temperatures."},
    {"light", "from", T::clock, U::none, kAny, kRequired, "", "Local time of day."},
    {"light", "to", T::clock, U::none, kAny, kRequired, "",
     "Local time of day; before `from` it runs over midnight."},
    {"expect", "from", T::amount, U::duration, within(0, 3650 * kDay), "", "", "Seldom shorter."},
    {"expect", "to", T::amount, U::duration, within(0, 3650 * kDay), "", "", "Seldom longer."},
    {"expect", "late", T::amount, U::duration, within(0, 3650 * kDay), "", "",
     "Look into it by then."},
    {"settle", "temperature", T::amount, U::duration, within(0, 7 * kDay), "12h", "",
     "For temperatures."},
    {"settle", "other", T::amount, U::duration, within(0, 7 * kDay), "1h", "",
     "For humidity and CO2."},
    // tubs/*.yaml
    {"tub", "tub", T::id, U::none, kAny, "", "", "The tub's name. A file has `tub` or `shelf`."},
    {"tub", "shelf", T::id, U::none, kAny, "", "",
     "The name of a shelf of jars; its phases are grain and empty."},
    {"tub", "batch", T::id, U::none, kAny, kRequired, "",
     "The batch that stands in it. Another name ends the placement before."},
    {"tub", "profile", T::id, U::none, kAny, kRequired, "", "The grow plan."},
    {"tub", "phase", T::id, U::none, kAny, kRequired, "",
     "Edit this line and save: the tub changes phase."},
    {"tub", "substrate", T::amount, U::mass, within(0.001, 10000), "", "",
     "The mass of the substrate."},
    {"tub", "substrate_ceiling", T::amount, U::temperature, within(10, 45), "", "",
     "From here on heat and light are locked off, and cooling and fan called, whatever the phase; "
     "released 1 C below."},
    {"tub", "stands_in", T::id, U::none, kAny, "", "",
     "The chamber it stands in; or it has `air` of its own."},
    {"tub", "air", T::map, U::none, kAny, "", "air", "Its own chamber, of the tub's name."},
    // chambers/*.yaml, and air: of a tub
    {"chamber", "chamber", T::id, U::none, kAny, kRequired, "", "The chamber's name."},
    {"chamber", "leader", T::id, U::none, kAny, "", "",
     "The tub whose phase is kept; needed once several stand in it."},
    {"chamber", "net_volume", T::either, U::volume, within(0.1, 1e6), kRequired, "volume",
     "Air without substrate and casing: one amount, or one a phase ({pinning: 40 L, fruiting: 38 "
     "L})."},
    {"chamber", "leak", T::number, U::none, within(0, 60), "", "",
     "Air changes an hour with the lid on and the fan at rest, for the water book; 3.5, a lid with "
     "filtered holes, is assumed where it is not given."},
    {"chamber", "control", T::word, U::none, kAny, "portions", "portions|hysteresis",
     "portions: misters (which need a rate) and fans run as long as the air needs, by what a "
     "second "
     "moves; the substrate's heat by a slow `duty`. hysteresis: from the start point to the "
     "middle."},
    {"chamber", "sensors", T::list, U::none, kAny, "", "sensor", "Its sensors."},
    {"chamber", "actuators", T::list, U::none, kAny, "", "actuator", "Its actuators."},
    {"air", "net_volume", T::either, U::volume, within(0.1, 1e6), kRequired, "volume",
     "Air without substrate and casing: one amount, or one a phase ({pinning: 40 L, fruiting: 38 "
     "L})."},
    {"air", "leak", T::number, U::none, within(0, 60), "", "",
     "Air changes an hour with the lid on and the fan at rest, for the water book; 3.5, a lid with "
     "filtered holes, is assumed where it is not given."},
    {"air", "control", T::word, U::none, kAny, "portions", "portions|hysteresis",
     "portions: misters (which need a rate) and fans run as long as the air needs, by what a "
     "second "
     "moves; the substrate's heat by a slow `duty`. hysteresis: from the start point to the "
     "middle."},
    {"air", "sensors", T::list, U::none, kAny, "", "sensor", "Its sensors."},
    {"air", "actuators", T::list, U::none, kAny, "", "actuator", "Its actuators."},
    {"sensor", "id", T::id, U::none, kAny, kRequired, "", "The sensor's name."},
    {"sensor", "topic", T::topic, U::none, kAny, kRequired, "",
     "Where it speaks: a plain number, or JSON."},
    {"sensor", "humidity", T::map, U::none, kAny, "", "quantity",
     "The relative humidity in the payload."},
    {"sensor", "temperature", T::map, U::none, kAny, "", "quantity",
     "A temperature in the payload; `place` says of what."},
    {"sensor", "co2", T::map, U::none, kAny, "", "quantity", "The CO2 in the payload."},
    {"sensor", "stale_after", T::amount, U::duration, within(1, kDay), "2m", "",
     "Silent for longer, it drives nothing, and it alerts. One that is silent for ten of its own "
     "usual intervals drives nothing already."},
    {"sensor", "speaks", T::word, U::none, kAny, "by_rhythm", "by_rhythm|on_change",
     "on_change: it speaks when its value changes; its silence says that nothing moved."},
    {"sensor", "at_least_every", T::amount, U::duration, within(1, kDay), "", "",
     "With on_change, which needs it: so often it speaks even when nothing changed. stale_after is "
     "half as long again where it is not given, and never shorter."},
    {"sensor", "calibrate", T::map, U::none, kAny, "", "calibrate",
     "Two known points a quantity, as read over two saturated salts."},
    {"sensor", "time", T::map, U::none, kAny, "", "time",
     "Where the payload carries its own time."},
    {"sensor", "gone", T::map, U::none, kAny, "", "gone",
     "The sensor's own last will: it is lost at once."},
    {"quantity", "at", T::pointer, U::none, kAny, "", "",
     "Where in the payload (RFC 6901); empty, the default, is the whole of it. A missing member is "
     "no reading."},
    {"quantity", "unit", T::word, U::none, kAny, "", "C|F|K|%|ppm",
     "The unit of the raw number; C, % or ppm where it is not given."},
    {"quantity", "scale", T::number, U::none, kAny, "1", "",
     "value = raw x scale + offset, then the unit."},
    {"quantity", "offset", T::number, U::none, kAny, "0", "",
     "See scale; in the unit of the raw number."},
    {"quantity", "range", T::pair, U::by_quantity, kAny, "", "",
     "A number outside is refused. At the top of its range CO2 means \"at least\". Without it: 0 "
     "to 100 %, -20 to 80 C, 0 to 10000 ppm."},
    {"quantity", "accuracy", T::difference, U::by_quantity, kAny, "", "",
     "Plus or minus: for narrow bands, and for sensors that disagree (without it 4 %, 1 C in the "
     "air, 1.5 C in the substrate, 150 ppm)."},
    {"quantity", "step", T::difference, U::by_quantity, kAny, "", "",
     "The smallest change it can tell; learned where it is not given."},
    {"quantity", "jump", T::difference, U::by_quantity, kAny, "", "",
     "A reading further than this from the one before, with `fastest` for the time between, is "
     "held "
     "until the next confirms it. Without it: 15 %, 3 C in the air, 2 C in the substrate, 1000 "
     "ppm."},
    {"quantity", "fastest", T::difference, U::by_quantity, kAny, "", "",
     "How far the air moves in a minute at most. Without it: 180 %, 6 C, 1 C, 3000 ppm."},
    {"quantity", "place", T::word, U::none, kAny, "", "air|substrate",
     "What the temperature is of; a temperature needs it."},
    {"calibrate", "humidity", T::points, U::none, kAny, "", "",
     "[[read, true], [read, true]] in %: what it read, after scale and offset, and what was true."},
    {"calibrate", "temperature", T::points, U::none, kAny, "", "", "Likewise, in C."},
    {"calibrate", "co2", T::points, U::none, kAny, "", "", "Likewise, in ppm."},
    {"time", "at", T::pointer, U::none, kAny, kRequired, "", "Where in the payload."},
    {"time", "form", T::word, U::none, kAny, kRequired, "unix_s|unix_ms|rfc3339",
     "How it is written."},
    {"gone", "topic", T::topic, U::none, kAny, kRequired, "", "Where the will is published."},
    {"gone", "says", T::text, U::none, kAny, kRequired, "",
     "What it says when the sensor is gone."},
    {"actuator", "id", T::id, U::none, kAny, kRequired, "", "The actuator's name."},
    {"actuator", "effect", T::word, U::none, kAny, kRequired,
     "humidify|dehumidify|heat|cool|fresh_air|stir|light", "What it does to the air."},
    {"actuator", "rate", T::amount, U::by_effect, within(0.001, 100000), "", "",
     "g/h for humidify and dehumidify, m3/h for fresh_air and stir, W for heat, cool and light; "
     "fresh_air needs it."},
    {"actuator", "power", T::amount, U::power, within(0.01, 10000), "", "",
     "What it draws while it runs (30 W), for the energy of a day; of heat and light it is the "
     "rate, where it is not given."},
    {"actuator", "tank", T::amount, U::volume, within(0.01, 1000), "", "",
     "What a mister's tank holds (2 L): the water book says how long it lasts."},
    {"actuator", "driver", T::id, U::none, kAny, kRequired, "", "The plugin that switches it."},
    {"actuator", "wiring", T::plugin, U::none, kAny, kRequired, "", "The plugin's own options."},
    {"actuator", "safe", T::level, U::none, kAny, kRequired, "",
     "Where it stands when nobody decides; N % where its driver knows levels, or with a period. "
     "Rest is not always safe."},
    {"actuator", "blind", T::word, U::none, kAny, "safe", "safe|duty",
     "Without a trusted reading: safe, or for 12 h the share of the last day that it ran (of "
     "water half), at most 30 %. Heaters need a cut_out or a second temperature and a ceiling."},
    {"actuator", "period", T::amount, U::duration, within(2, 3600), "", "",
     "For a driver that knows run and rest only: a level between runs for that share of each "
     "period, never shorter than limits: shortest_run."},
    {"actuator", "falls_by_itself_after", T::amount_or_never, U::duration, within(1, 3600), "", "",
     "A network output's own timer, or `never`; a network output needs it, a board's own has "
     "none."},
    {"actuator", "cut_out", T::text, U::none, kAny, "", "",
     "What cuts a heater off by itself, in words; a heater that never falls by itself needs it."},
    {"actuator", "limits", T::map, U::none, kAny, "", "limits",
     "Limits, with the last word over any decision; what is not given here is by effect, below."},
    {"actuator", "duty", T::map, U::none, kAny, "", "duty",
     "For heat and cool, where a phase keeps the substrate's temperature: how it is shared out, "
     "unless `control: hysteresis` is asked for."},
    {"actuator", "lease", T::amount, U::duration, within(3, 60), "15s", "",
     "An output that is not renewed for so long falls safe."},
    {"actuator", "own_process", T::flag, U::none, kAny, "false", "", "A host process of its own."},
    {"limits", "shortest_run", T::amount, U::duration, within(0, 3600), "", "",
     "A run lasts at least so long, unless the air is at its far edge."},
    {"limits", "shortest_rest", T::amount, U::duration, within(0, kDay), "", "",
     "A rest lasts at least so long."},
    {"limits", "longest_run", T::amount, U::duration, within(0, kDay), "", "",
     "A run lasts at most so long; 0s is no limit."},
    {"limits", "starts_per_hour", T::integer, U::none, within(0, 240), "", "",
     "So many starts in any hour; 0 is no limit."},
    {"duty", "period", T::amount, U::duration, within(600, 1800), "20m", "",
     "It runs for a share of each such time. The bed answers over hours and does not feel it."},
    {"duty", "most", T::amount, U::share, within(5, 100), "100 %", "", "The largest share of it."},
    // rehearse --faults FILE
    {"faults", "faults", T::list, U::none, kAny, kRequired, "fault", "What goes wrong, and when."},
    {"fault", "fault", T::word, U::none, kAny, kRequired,
     "sensor_dead|sensor_gone|sensor_stuck|sensor_drifting|tank_empty|fan_dead|actuator_dead|"
     "output_unusable|lid_open|broker_gone|restart|daemon_hung|clock_jump",
     "What goes wrong. A tank that is empty is filled again when its time is over, and so on."},
    {"fault", "at", T::amount, U::duration, within(0, 400 * kDay), kRequired, "",
     "Since the rehearsal began."},
    {"fault", "for", T::amount, U::duration, within(1, 400 * kDay), kRequired, "",
     "So long it lasts."},
    {"fault", "tub", T::id, U::none, kAny, "", "",
     "The tub or chamber in whose air it happens; in each where it is not given. Broker, daemon "
     "and "
     "clock are the site's."},
    {"fault", "sensor", T::id, U::none, kAny, "", "",
     "Which sensor of that air; need not be said where it has one."},
    {"fault", "actuator", T::id, U::none, kAny, "", "",
     "Which actuator of that air; need not be said where one fits."},
    {"fault", "quantity", T::word, U::none, kAny, "",
     "humidity|air_temperature|substrate_temperature|co2",
     "sensor_drifting: which of the sensor's; need not be said where it has one."},
    {"fault", "rises", T::difference, U::by_quantity, kAny, "", "",
     "sensor_drifting: it shows so much more with each day."},
    {"fault", "falls", T::difference, U::by_quantity, kAny, "", "",
     "sensor_drifting: it shows so much less with each day."},
    {"fault", "ahead", T::amount, U::duration, within(1, 400 * kDay), "", "",
     "clock_jump: the wall clock is so far ahead."},
    {"fault", "behind", T::amount, U::duration, within(1, 400 * kDay), "", "",
     "clock_jump: the wall clock is so far behind."},
};

}  // namespace

std::span<const OptionRow> option_table() { return kRows; }

std::span<const OptionRow> rows_of(std::string_view section) {
  const auto in_section = [&](const OptionRow& row) { return row.section == section; };
  const auto* first = std::find_if(std::begin(kRows), std::end(kRows), in_section);
  return {first, std::find_if_not(first, std::end(kRows), in_section)};
}

const OptionRow* row_of(std::string_view section, std::string_view key) {
  for (const OptionRow& row : rows_of(section)) {
    if (row.key == key) return &row;
  }
  return nullptr;
}

}  // namespace tubwarden
