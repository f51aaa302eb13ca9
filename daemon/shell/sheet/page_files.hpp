// The files of the page, compiled in and compressed already. Made by CMake of what stands in page/.
// Threading: constant data. Failure: none.
#pragma once

#include <span>
#include <string_view>

namespace tubwarden::sheet {

struct PageFile {
  std::string_view path;  ///< "/", "/sheet.css"
  std::string_view type;
  std::string_view etag;  ///< with its quotes
  std::string_view gzip;
};

std::span<const PageFile> page_files();

}  // namespace tubwarden::sheet
