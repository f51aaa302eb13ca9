#include "iio_sensor/words.hpp"

#include <gtest/gtest.h>

namespace tubwarden::iio {
namespace {

using namespace std::chrono_literals;

std::vector<std::string> right() {
  return {"--device", "scd41", "--topic", "cellar/air", "--broker", "mqtt://127.0.0.1"};
}
std::string why(std::vector<std::string> more) {
  std::vector<std::string> all = right();
  all.insert(all.end(), more.begin(), more.end());
  const auto words = read_words(all);
  return words ? "they were taken" : words.error().text;
}

TEST(Words, AreTaken) {
  auto all = right();
  all.insert(all.end(), {"--every", "1m 30s", "--user-file", "/etc/x", "--root", "/r"});
  const auto words = read_words(all);
  ASSERT_TRUE(words) << words.error().text;
  EXPECT_EQ(words->task, Task::publish);
  EXPECT_EQ(words->device, "scd41");
  EXPECT_EQ(words->every, 90s);
  EXPECT_EQ(words->user_file, "/etc/x");
  EXPECT_EQ(words->ca_file, std::nullopt);
  EXPECT_EQ(words->root, "/r");
  EXPECT_EQ(words->state_topic(), "cellar/air/state");
}

TEST(Words, OfAListNeedNothingElse) {
  EXPECT_EQ(read_words({"--list"})->task, Task::list);
  EXPECT_EQ(read_words({"--help"})->task, Task::help);
}

TEST(Words, ThatAreMissingAreNamed) {
  EXPECT_EQ(read_words({}).error().text, "--device is missing; --list shows what there is");
  EXPECT_EQ(read_words({"--device", "x"}).error().text,
            "--topic is missing: where the readings go");
  EXPECT_EQ(read_words({"--device", "x", "--topic", "y"}).error().text,
            "--broker is missing, as mqtt://127.0.0.1:1883");
  EXPECT_EQ(why({"--every"}), "--every wants a value");
  EXPECT_EQ(why({"--root", ""}), "--root wants a value");
}

TEST(Words, ThatAreWrongAreNamedWithWhatIsAllowed) {
  EXPECT_EQ(why({"--evry", "5s"}), "there is no '--evry'; --help tells what there is");
  EXPECT_EQ(why({"--every", "100ms"}), "--every is '100ms'; allowed: 200ms to 1h");
  EXPECT_EQ(why({"--every", "often"}), "--every is 'often'; allowed: 200ms to 1h");
  EXPECT_EQ(why({"--patience", "11m"}), "--patience is '11m'; allowed: 1s to 10m");
  EXPECT_EQ(why({"--topic", "a/#"}), "--topic is 'a/#'; allowed: one topic, without + and #");
  EXPECT_EQ(why({"--broker", "127.0.0.1"}).substr(0, 10), "--broker: ");
}

}  // namespace
}  // namespace tubwarden::iio
