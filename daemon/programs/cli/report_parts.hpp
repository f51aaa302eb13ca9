// The parts that a report's page is made of, as they stand in report/. Threading: constant data.
// Failure: none.
#pragma once

namespace tubwarden::cli {

extern const char* const kReportHtml;
extern const char* const kReportCss;
extern const char* const kBatchCss;  ///< added to it in the report of a batch
extern const char* const kReportJs;
/// Of the chart library.
extern const char* const kChartLicence;

}  // namespace tubwarden::cli
