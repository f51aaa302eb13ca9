// The daemon's answers as a grower reads them: JSON text in, a page of text out.
// Threading: pure functions. Failure: an answer that is not of this version is an Error, never an
// exception; members that are missing are left out.
#pragma once

#include <string>

#include "base/result.hpp"
#include "programs/cli/page.hpp"

namespace tubwarden::cli {

using Shown = Result<std::string>;

/// What is wrong first, then a strip a tub, then the machine.
Shown show_status(const std::string& json, const Look& look);
Shown show_why(const std::string& json, const Look& look);
/// The last decisions of an air, a heading a day, the newest last.
Shown show_decisions(const std::string& json, const Look& look);
/// An air as it was at a moment: its phase, its readings, and why each actuator did what it did.
Shown show_why_at(const std::string& json, const Look& look);
Shown show_alerts(const std::string& json, const Look& look);
/// What came, what went and who saw to it, a heading a day, the newest last.
Shown show_alert_history(const std::string& json, const Look& look);
Shown show_alert_worst(const std::string& json, const Look& look);
Shown show_alert_test(const std::string& json, const Look& look);
Shown show_outputs(const std::string& json, const Look& look);
/// The time line of a batch, a heading a day.
Shown show_batch(const std::string& json, const Look& look);
Shown show_kept(const std::string& json, const Look& look);
Shown show_batches(const std::string& json, const Look& look);
/// An act's answer: its sentence, and its entry in the record.
Shown show_done(const std::string& json, const Look& look);
/// The water book of a tub: what it gave up, by what, and what tanks and the day say.
Shown show_book(const std::string& json, const Look& look);
/// Cultures with what is left of them; one with its jars.
Shown show_cultures(const std::string& json, const Look& look);
Shown show_culture(const std::string& json, const Look& look);
/// Jars by batch, how far each is grown through.
Shown show_jars(const std::string& json, const Look& look);
Shown show_jar(const std::string& json, const Look& look);
/// A contaminated jar: what to do, and which others to watch.
Shown show_contaminated(const std::string& json, const Look& look);
/// When jars are grown through, and tubs first picked.
Shown show_forecast(const std::string& json, const Look& look);
/// What is due, with the command that says it is done.
Shown show_today(const std::string& json, const Look& look);
/// Where something came from and what became of it, a heading a day.
Shown show_trace(const std::string& json, const Look& look);
/// The answer as it came, indented.
Shown show_raw(const std::string& json);

/// "failed safe" or "cannot be made safe": a hand is needed.
bool is_failed(const std::string& health);

}  // namespace tubwarden::cli
