#include "iio_sensor/words.hpp"

#include <map>

#include "sdk/wiring.hpp"
#include "shell/broker/broker_address.hpp"

namespace tubwarden::iio {

namespace {

using std::chrono::milliseconds;

constexpr milliseconds kEveryMin{200}, kEveryMax{3600 * 1000};
constexpr milliseconds kPatienceMin{1000}, kPatienceMax{600 * 1000};

Error wrong(std::string text) { return {ErrorCode::bad_input, std::move(text)}; }

Result<milliseconds> time_of(const std::string& word, const std::string& text, milliseconds low,
                             milliseconds high, const char* allowed) {
  const auto time = Wiring::duration(text);
  if (time && *time >= low && *time <= high) return *time;
  return wrong(word + " is '" + text + "'; allowed: " + allowed);
}

std::optional<Error> check(const Words& words) {
  if (words.task != Task::publish) return std::nullopt;
  if (words.device.empty()) return wrong("--device is missing; --list shows what there is");
  if (words.topic.empty()) return wrong("--topic is missing: where the readings go");
  if (words.topic.find_first_of("+#") != std::string::npos) {
    return wrong("--topic is '" + words.topic + "'; allowed: one topic, without + and #");
  }
  if (words.broker.empty()) return wrong("--broker is missing, as mqtt://127.0.0.1:1883");
  const auto address = broker_address(words.broker);
  if (!address) return wrong("--broker: " + address.error().text);
  return std::nullopt;
}

}  // namespace

Result<Words> read_words(const std::vector<std::string>& argv) {
  Words words;
  std::string every = "5s", patience = "60s";
  std::map<std::string, std::string*> texts = {
      {"--broker", &words.broker}, {"--topic", &words.topic}, {"--device", &words.device},
      {"--root", &words.root},     {"--every", &every},       {"--patience", &patience}};
  const std::map<std::string, std::optional<std::string>*> files = {
      {"--user-file", &words.user_file},
      {"--ca-file", &words.ca_file},
      {"--cert-file", &words.cert_file},
      {"--key-file", &words.key_file}};
  for (std::size_t i = 0; i < argv.size(); ++i) {
    const std::string& word = argv[i];
    if (word == "--help" || word == "-h" || word == "--list") {
      words.task = word == "--list" ? Task::list : Task::help;
      continue;
    }
    const auto text = texts.find(word);
    const auto file = files.find(word);
    if (text == texts.end() && file == files.end()) {
      return wrong("there is no '" + word + "'; --help tells what there is");
    }
    if (i + 1 == argv.size() || argv[i + 1].empty()) return wrong(word + " wants a value");
    const std::string& value = argv[++i];
    if (text != texts.end()) {
      *text->second = value;
    } else {
      *file->second = value;
    }
  }
  const auto every_ms = time_of("--every", every, kEveryMin, kEveryMax, "200ms to 1h");
  if (!every_ms) return every_ms.error();
  const auto patience_ms = time_of("--patience", patience, kPatienceMin, kPatienceMax, "1s to 10m");
  if (!patience_ms) return patience_ms.error();
  words.every = *every_ms;
  words.patience = *patience_ms;
  if (auto error = check(words)) return *error;
  return words;
}

std::string help_page() {
  return R"(tubwarden-iio-sensor: publishes a sensor of the kernel (IIO) to the broker

  tubwarden-iio-sensor --list
  tubwarden-iio-sensor --device scd41 --topic cellar/tub-1/air --broker mqtt://127.0.0.1:1883

  --list             the sensors of this board and what they read, and no more
  --device NAME      its name, its label in the device tree, or its folder (iio:device0)
  --topic TOPIC      where a reading goes, as JSON: humidity_pct, temperature_c, co2_ppm;
                     TOPIC/state says "here" or "gone", the latter by the broker when we end
  --broker URL       mqtt://host[:port], or mqtts:// for TLS
  --every TIME       200ms to 1h; 5s
  --patience TIME    1s to 10m; 60s: when one quantity takes longer, the program ends
  --user-file FILE   two lines: name, password
  --ca-file, --cert-file, --key-file FILE   for mqtts://
  --root FOLDER      /sys/bus/iio/devices

Exit code 0: it was told to end; 1: it cannot go on; 2: wrong words.
)";
}

}  // namespace tubwarden::iio
