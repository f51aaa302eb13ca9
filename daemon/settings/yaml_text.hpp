// Writing a value into a YAML file of ours so that it is read back as the same text.
// Threading: pure. Failure: none.
#pragma once

#include <string>
#include <string_view>

namespace tubwarden {

/// As it stands where YAML reads it so, in block and in {flow}; else in double quotes with escapes.
std::string yaml_value(std::string_view text);

}  // namespace tubwarden
