#include "programs/cli/labels.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "programs/cli/markup.hpp"
#include "programs/cli/page.hpp"
#include "programs/cli/qr_code.hpp"

namespace tubwarden::cli {
namespace {

/// Printers leave about 5 mm of an edge white; twice that is on the safe side.
constexpr double kMarginMm = 10.0;
/// Between a cut line and what is printed: scissors wander.
constexpr double kPadMm = 2.0;
/// The least module that a telephone reads from a hand's breadth: common practice, no source.
constexpr double kModuleMinMm = 0.4;
constexpr double kModuleMaxMm = 1.0;
/// The code takes no more than this of a label's width.
constexpr double kCodeShareMax = 0.5;
/// Widths of sans-serif letters in parts of their height, on the wide side of common ones.
constexpr double kLetterWide = 0.58, kBoldLetterWide = 0.68;
/// A longer id is cut; its code holds it whole.
constexpr double kIdMinMm = 2.6;
/// How far a line below is, in parts of the letters' height.
constexpr double kLineStep = 1.2;

struct Box {
  double x = 0.0, y = 0.0, width = 0.0, height = 0.0;
};

/// How many letters of a size end within a width.
std::size_t letters_in(double width_mm, double size_mm, bool bold) {
  const double letter_mm = (bold ? kBoldLetterWide : kLetterWide) * size_mm;
  return static_cast<std::size_t>(std::max(1.0, width_mm / letter_mm));
}

std::string text_line(double x, double baseline, double size_mm, const std::string& words,
                      bool bold) {
  return fmt::format("<text x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\"{}>{}</text>\n", x,
                     baseline, size_mm, bold ? " font-weight=\"bold\"" : "", escaped(words));
}

/// One path for the whole code, a run of dark modules a bar.
std::string code_path(const QrCode& code, double x, double y, double module_mm) {
  std::string path;
  for (std::size_t row = 0; row < code.size; ++row) {
    for (std::size_t column = 0; column < code.size;) {
      std::size_t end = column;
      while (end < code.size && code.at(row, end)) ++end;
      if (end > column)
        path += fmt::format("M{} {}h{}v1h-{}z", column, row, end - column, end - column);
      column = std::max(end, column + 1);
    }
  }
  return fmt::format(
      "<path transform=\"translate({:.3f} {:.3f}) scale({:.4f})\" shape-rendering=\"crispEdges\" "
      "d=\"{}\"/>\n",
      x, y, module_mm, path);
}

/// The id as large as it goes, and the rest below it, as far down as there is room.
std::string label_text(const Label& label, const Box& box) {
  const double letters = std::max<double>(1.0, static_cast<double>(columns(label.id)));
  const double id_mm =
      std::clamp(box.width / (letters * kBoldLetterWide), kIdMinMm, box.height * 0.36);
  // Capitals are about three quarters of the letters' height.
  double y = box.y + id_mm * 0.78;
  std::string text =
      text_line(box.x, y, id_mm, cut(label.id, letters_in(box.width, id_mm, true)), true);
  y += id_mm * 0.18;
  const auto below = [&](const std::string& words, double size_mm) {
    for (const std::string& line : wrapped(words, letters_in(box.width, size_mm, false))) {
      y += size_mm * kLineStep;
      if (y > box.y + box.height) return;
      text += text_line(box.x, y, size_mm, cut(line, letters_in(box.width, size_mm, false)), false);
    }
  };
  const double large = std::min(4.2, box.height * 0.16), small = std::min(3.0, box.height * 0.11);
  if (!label.batch.empty()) below(label.batch, large);
  if (!label.day.empty()) below(label.day, large);
  y += small * 0.3;
  for (const std::string& line : label.lines) below(line, small);
  return text;
}

Result<std::string> one_label(const Label& label, const Box& cell) {
  const auto code = qr_code(label.id);
  if (!code.ok()) return code.error();
  const double modules = static_cast<double>(code->size + 2 * kQuietModules);
  const double room = std::min(cell.height - 2 * kPadMm, (cell.width - 2 * kPadMm) * kCodeShareMax);
  const double module_mm = std::min(room / modules, kModuleMaxMm);
  if (module_mm < kModuleMinMm) {
    return Error{ErrorCode::bad_input,
                 fmt::format("a label of {:.0f} by {:.0f} mm is too small for the QR code of '{}'; "
                             "take fewer --columns or --rows",
                             cell.width, cell.height, label.id)};
  }
  const double side = modules * module_mm, quiet = kQuietModules * module_mm;
  const double x = cell.x + kPadMm, y = cell.y + (cell.height - side) / 2.0;
  const Box words{x + side, cell.y + kPadMm + 1.0, cell.width - 2 * kPadMm - side,
                  cell.height - 2 * kPadMm - 2.0};
  return fmt::format("<g><title>{}</title>\n{}{}</g>\n", escaped(label.id),
                     code_path(*code, x + quiet, y + quiet, module_mm), label_text(label, words));
}

/// Between the labels and around them, light enough to vanish when cut along.
std::string cut_lines(const LabelSheet& sheet, const Box& grid) {
  std::string path;
  for (int i = 0; i <= sheet.columns; ++i) {
    path += fmt::format("M{:.3f} {:.3f}v{:.3f}", grid.x + grid.width * i / sheet.columns, grid.y,
                        grid.height);
  }
  for (int i = 0; i <= sheet.rows; ++i) {
    path += fmt::format("M{:.3f} {:.3f}h{:.3f}", grid.x, grid.y + grid.height * i / sheet.rows,
                        grid.width);
  }
  return fmt::format(
      "<path d=\"{}\" fill=\"none\" stroke=\"#b8b8b8\" stroke-width=\"0.15\" "
      "stroke-dasharray=\"1.5 1.5\"/>\n",
      path);
}

}  // namespace

Result<std::string> label_page(const std::vector<Label>& labels, const LabelSheet& sheet,
                               std::size_t page) {
  const std::size_t pages = sheet.pages(labels.size());
  if (page < 1 || page > pages) {
    return Error{ErrorCode::bad_input, pages == 0 ? "there is nothing to label"
                                                  : fmt::format("there is no page {}; there are "
                                                                "pages 1 to {}",
                                                                page, pages)};
  }
  const Box grid{kMarginMm, kMarginMm, sheet.width_mm - 2 * kMarginMm,
                 sheet.height_mm - 2 * kMarginMm};
  const double width = grid.width / sheet.columns, height = grid.height / sheet.rows;
  const std::size_t first = (page - 1) * sheet.a_page();
  const std::size_t last = std::min(labels.size(), first + sheet.a_page());
  std::string svg = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" "
      "width=\"{0}mm\" height=\"{1}mm\" viewBox=\"0 0 {0} {1}\" font-family=\"Helvetica, Arial, "
      "'Liberation Sans', 'DejaVu Sans', sans-serif\">\n<title>Labels, page {2} of {3}</title>\n"
      "<rect width=\"{0}\" height=\"{1}\" fill=\"#fff\"/>\n",
      sheet.width_mm, sheet.height_mm, page, pages);
  svg += cut_lines(sheet, grid);
  for (std::size_t i = first; i < last; ++i) {
    const auto column = static_cast<double>((i - first) % static_cast<std::size_t>(sheet.columns));
    const auto row = static_cast<double>((i - first) / static_cast<std::size_t>(sheet.columns));
    const auto label =
        one_label(labels[i], {grid.x + column * width, grid.y + row * height, width, height});
    if (!label.ok()) return label.error();
    svg += *label;
  }
  return svg + "</svg>\n";
}

}  // namespace tubwarden::cli
