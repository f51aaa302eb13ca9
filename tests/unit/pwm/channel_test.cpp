// A channel through files: a tree in a folder, with a thread in the kernel's place where one is
// due.
#include "pwm/channel.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <map>
#include <thread>

#include "parts/parts.hpp"

namespace tubwarden::pwm {
namespace {

using namespace std::chrono_literals;
using testing::HasSubstr;
using testing::Optional;

class ChannelFiles : public testing::Test {
 protected:
  ChannelFiles() { chip("pwmchip0", "fe20c000.pwm", 2); }

  void chip(const std::string& name, const std::string& device, int channels) const {
    tree_.write(name + "/npwm", std::to_string(channels) + "\n");
    tree_.write(name + "/export", "");
    std::filesystem::create_directory_symlink("../../" + device, tree_.path() / name / "device");
  }
  void exported(const std::string& name = "pwmchip0/pwm1") const {
    for (const char* file : {"period", "duty_cycle", "enable"}) {
      tree_.write(name + "/" + file, "0\n");
    }
    tree_.write(name + "/polarity", "normal\n");
  }
  std::string file(const std::string& name) const {
    return parts::read_file(tree_.path() / "pwmchip0" / name);
  }
  ChannelWiring wiring(const std::string& chip = "pwmchip0", unsigned channel = 1) const {
    return {tree_.path().string(), chip, channel, 25000, false};
  }
  std::string why(const ChannelWiring& wiring) const {
    const auto channel = Channel::take(wiring, 20ms);
    return channel ? "it was taken" : channel.error().text;
  }

  const parts::TempFolder tree_;
};

TEST_F(ChannelFiles, SetsWhatItIsAsked) {
  exported();
  const auto channel = Channel::take(wiring(), 20ms);
  ASSERT_TRUE(channel);
  EXPECT_EQ(file("pwm1/enable"), "0\n");  // nothing is switched by taking it
  EXPECT_EQ((*channel)->set(signal_at(300, 25000, true)), std::nullopt);
  EXPECT_EQ(file("pwm1/period") + " " + file("pwm1/duty_cycle"), "40000 12000");
  EXPECT_EQ(file("pwm1/polarity") + " " + file("pwm1/enable"), "inversed 1");
  EXPECT_EQ((*channel)->set(signal_at(0, 25000, true)), std::nullopt);
  EXPECT_EQ(file("pwm1/duty_cycle") + " " + file("pwm1/enable"), "0 1");
}

TEST_F(ChannelFiles, FindsAChipByItsDevice) {
  chip("pwmchip4", "1f00098000.pwm", 4);
  exported("pwmchip4/pwm1");
  EXPECT_TRUE(Channel::take(wiring("1f00098000.pwm"), 20ms));
}

TEST_F(ChannelFiles, NamesTheChipsThatThereAre) {
  EXPECT_EQ(why(wiring("pwmchip9")), "no chip is 'pwmchip9'; there are: pwmchip0 'fe20c000.pwm'");
  chip("pwmchip1", "fe20c000.pwm", 1);
  EXPECT_THAT(why(wiring("fe20c000.pwm")),
              HasSubstr("more than one chip is 'fe20c000.pwm': give chip by its name"));
  ChannelWiring elsewhere = wiring();
  elsewhere.root += "/nowhere";
  EXPECT_THAT(why(elsewhere), HasSubstr("/nowhere shows no PWM chip"));
}

TEST_F(ChannelFiles, RefusesAChannelBeyondTheChip) {
  const auto channel = Channel::take(wiring("pwmchip0", 2), 20ms);
  ASSERT_FALSE(channel);
  EXPECT_EQ(channel.error().code, ErrorCode::bad_input);
  EXPECT_EQ(channel.error().text, "channel is 2; pwmchip0 has 2, counted from 0");
}

TEST_F(ChannelFiles, ExportsTheChannelAndWaitsForItsFiles) {
  std::thread kernel([&] {
    if (parts::wait_until([&] { return file("export") == "1"; }, 5s)) exported();
  });
  const auto channel = Channel::take(wiring(), 5s);
  kernel.join();
  ASSERT_TRUE(channel) << channel.error().text;
  EXPECT_EQ((*channel)->set(signal_at(1000, 25000, false)), std::nullopt);
}

TEST_F(ChannelFiles, SaysWhichFileIsMissing) {
  EXPECT_THAT(why(wiring()), HasSubstr("pwmchip0/pwm1/period: No such file or directory"));
  std::filesystem::remove(tree_.path() / "pwmchip0/export");
  std::filesystem::create_directory(tree_.path() / "pwmchip0/export");
  EXPECT_THAT(why(wiring()), HasSubstr("pwmchip0/export: Is a directory"));
}

TEST_F(ChannelFiles, HasOneHolder) {
  exported();
  auto first = Channel::take(wiring(), 20ms);
  ASSERT_TRUE(first);
  EXPECT_THAT(why(wiring()), HasSubstr("pwm1 is switched by another output"));
  first.value().reset();
  EXPECT_TRUE(Channel::take(wiring(), 20ms));
}

TEST_F(ChannelFiles, NamesTheFileThatCannotBeReadOrWritten) {
  exported();
  const auto channel = Channel::take(wiring(), 20ms);
  ASSERT_TRUE(channel);
  tree_.write("pwmchip0/pwm1/period", "many\n");
  EXPECT_THAT((*channel)->set(signal_at(1, 25000, false)),
              Optional(HasSubstr("pwm1/period says 'many', not a number")));
  exported();
  std::filesystem::remove(tree_.path() / "pwmchip0/pwm1/polarity");
  EXPECT_EQ((*channel)->set(signal_at(1, 25000, false)), std::nullopt);  // an old kernel's chip
  std::filesystem::create_directory(tree_.path() / "pwmchip0/pwm1/polarity");
  EXPECT_THAT((*channel)->set(signal_at(1, 25000, true)),
              Optional(HasSubstr("polarity: 'inversed': Is a directory (this chip may not be able "
                                 "to invert)")));
}

TEST_F(ChannelFiles, NoticesThatTheChannelIsGone) {
  exported();
  const auto channel = Channel::take(wiring(), 20ms);
  ASSERT_TRUE(channel);
  EXPECT_TRUE((*channel)->is_there());
  std::filesystem::remove_all(tree_.path() / "pwmchip0/pwm1");
  EXPECT_FALSE((*channel)->is_there());
}

TEST(ChannelWiring, NamesTheWrongValueAndWhatIsAllowed) {
  using Options = std::map<std::string, std::string>;
  const Options right = {{"root", "/sys/class/pwm"},
                         {"chip", "pwmchip0"},
                         {"channel", "1"},
                         {"frequency", "25000"},
                         {"inverted", "true"}};
  const auto read = [&](const std::string& name, const std::string& value) {
    Options options = right;
    if (!name.empty()) options[name] = value;
    return read_wiring([&](const char* asked) { return options[asked]; });
  };
  ASSERT_TRUE(read("", ""));
  EXPECT_EQ(read("", "")->frequency_hz, 25000);
  EXPECT_TRUE(read("", "")->inverted);
  EXPECT_EQ(read("frequency", "1.5")->frequency_hz, 1.5);
  const std::vector<std::array<std::string, 3>> wrong = {
      {"root", "sys", "wiring: root is 'sys'; allowed: a full path, as /sys/class/pwm"},
      {"chip", "../x",
       "wiring: chip is '../x'; allowed: a chip's name (pwmchip0), or its device's"},
      {"chip", "", "wiring: chip is ''; allowed: a chip's name (pwmchip0), or its device's"},
      {"channel", "1024", "wiring: channel is '1024'; allowed: 0 to 1023"},
      {"channel", "-1", "wiring: channel is '-1'; allowed: 0 to 1023"},
      {"frequency", "0.9", "wiring: frequency is '0.9'; allowed: 1 to 1000000, in Hz"},
      {"frequency", "nan", "wiring: frequency is 'nan'; allowed: 1 to 1000000, in Hz"},
      {"frequency", "25 kHz", "wiring: frequency is '25 kHz'; allowed: 1 to 1000000, in Hz"},
      {"inverted", "yes", "wiring: inverted is 'yes'; allowed: true, false"}};
  for (const auto& [name, value, text] : wrong) {
    const auto wiring = read(name, value);
    ASSERT_FALSE(wiring) << name << " " << value;
    EXPECT_EQ(wiring.error().text, text);
  }
}

}  // namespace
}  // namespace tubwarden::pwm
