// Text that stands in HTML, SVG or XML without being taken for markup. Threading: pure. Failure:
// none; what no XML may hold (control characters) is left out.
#pragma once

#include <string>
#include <string_view>

namespace tubwarden::cli {

std::string escaped(std::string_view text);

}  // namespace tubwarden::cli
