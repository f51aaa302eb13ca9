// A channel plugin loaded into the test, which is its host: what it is told, and what it answers.
// Threading: one test thread. Failure: throws std::runtime_error when the plugin cannot be loaded.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "parts/parts.hpp"
#include "sdk/plugin.h"

namespace tubwarden {

struct Told {
  std::int32_t code = TW_OK;
  std::string words;  ///< the last at TW_WARNING or above
};

class Teller {
 public:
  explicit Teller(const std::string& name);
  /// One message about tub-1, `key` being its own.
  Told tell(const std::string& wiring, const std::string& key = "tub-1.humidity_low@7",
            const std::string& title = "tub-1: humidity low",
            const std::string& text = "tub-1: humidity 81 % is below 85 %.\nSince 10:03.",
            const std::string& state = "raised");
  std::string site = R"({"site":"cellar"})";
  const std::vector<std::string>& all_words() const { return all_; }

 private:
  const tw_plugin* plugin_;
  std::vector<std::string> all_;
};

/// Self-signed certificates of openssl: NAME.pem and NAME.key in the folder.
void make_certificate(const parts::TempFolder& folder, const std::string& name,
                      const std::string& alternative_names);

/// A file that only its owner can read.
std::string secret_file(const parts::TempFolder& folder, const std::string& name,
                        const std::string& text);

}  // namespace tubwarden
