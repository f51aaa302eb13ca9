#include "programs/cli/paper.hpp"

#include <fmt/format.h>

#include "base/text.hpp"
#include "programs/cli/batch_page.hpp"
#include "programs/cli/batch_read.hpp"
#include "programs/cli/json_read.hpp"
#include "programs/cli/labels.hpp"

namespace tubwarden::cli {

Result<PaperTold> print_labels(const PrintLabels& wanted, const AskDaemon& ask, const Look& look) {
  const auto answer = ask("labels", dumped({{"names", wanted.names}}));
  if (!answer.ok()) return answer.error();
  const auto told = parsed(*answer, "labels");
  if (!told.ok()) return told.error();
  std::vector<Label> labels;
  for (const Json& row : list(*told, "labels")) {
    Label label{text(row, "id"), text(row, "batch"), "", {}};
    if (const auto at = parse_rfc3339(text(row, "at"))) {
      label.day = rfc3339(*at + duration_cast<milliseconds>(look.east_of_utc(*at))).substr(0, 10);
    }
    for (const Json& line : list(row, "lines")) {
      if (line.is_string()) label.lines.push_back(line.get<std::string>());
    }
    labels.push_back(std::move(label));
  }
  LabelSheet sheet;
  if (wanted.letter) {
    sheet.width_mm = kLetterWidthMm;
    sheet.height_mm = kLetterHeightMm;
  }
  sheet.columns = wanted.columns;
  sheet.rows = wanted.rows;
  const auto page = label_page(labels, sheet, static_cast<std::size_t>(wanted.page));
  if (!page.ok()) return page.error();
  PaperTold paper{*page, {}};
  if (const std::size_t pages = sheet.pages(labels.size()); pages > 1) {
    paper.notes.push_back(fmt::format("page {} of {}; the others: --page N", wanted.page, pages));
  }
  return paper;
}

Result<PaperTold> report_batches(const ReportBatches& wanted, const AskDaemon& ask, bool json,
                                 const Look& look) {
  const bool page = !json && !wanted.csv;
  const bool charts = page && wanted.batches.size() == 1;
  std::vector<BatchReport> reports;
  for (const std::string& batch : wanted.batches) {
    auto report = read_batch(ask, batch, wanted.now, look.east_of_utc, charts);
    if (!report.ok()) return report.error();
    reports.push_back(std::move(*report));
  }
  if (json) return PaperTold{batches_json(reports), {}};
  if (wanted.csv) return PaperTold{batches_csv(reports), {}};
  return PaperTold{
      charts ? batch_page(reports.front(), photo_data, look) : batches_page(reports, look), {}};
}

}  // namespace tubwarden::cli
