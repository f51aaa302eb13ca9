// A sum of the kitchen as it is shown: what went in, by which formula, what came out, where the
// formula is from, and what to mind. Threading: plain values. Failure: none.
#pragma once

#include <string>
#include <vector>

namespace tubwarden {

/// A figure with its name and unit; `digits` behind the point when it is shown.
struct Figure {
  std::string name;
  double value = 0.0;
  std::string unit;
  int digits = 1;
};

struct Sum {
  std::string title;
  std::vector<Figure> given;
  std::string formula;
  std::vector<Figure> found;
  std::vector<std::string> says;  ///< what the figures mean, a sentence each
  std::string source;
  std::vector<std::string> cautions;  ///< beside what can hurt
};

}  // namespace tubwarden
