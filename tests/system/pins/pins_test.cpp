// pwm and gpio_line in real hosts. The kernel's PWM files are a tree in a folder: plain files,
// which take whatever is written; the order of writes is held in tests/unit/pwm.
#include <gtest/gtest.h>
#include <signal.h>

#include "system/hosts/bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

class PwmHost : public testing::Test {
 protected:
  PwmHost() {
    tree_.write("pwmchip0/npwm", "2\n");
    for (const char* name : {"period", "duty_cycle", "enable"}) {
      tree_.write(std::string("pwmchip0/pwm0/") + name, "0\n");
    }
    tree_.write("pwmchip0/pwm0/polarity", "normal\n");
  }
  OutputPlan fan(Level safe, const std::string& more = "") const {
    return plan("fan", "pwm",
                R"({"chip":"pwmchip0","channel":0,"frequency":25000,"root":")" +
                    tree_.path().string() + "\"" + more + "}",
                milliseconds(3000), safe);
  }
  std::string file(const std::string& name) const {
    return parts::read_file(tree_.path() / "pwmchip0/pwm0" / name);
  }
  bool stands(Bench& b, const std::string& duty) {
    return b.until([&] { return file("duty_cycle") == duty && file("enable") == "1"; }, 5s);
  }
  const parts::TempFolder tree_;
};

TEST_F(PwmHost, BeginsSafeTakesLevelsAndFallsWithItsHost) {
  Bench b;
  b.drivers.want({fan(300)});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  EXPECT_EQ(file("period"), "40000");  // 25 kHz in ns
  EXPECT_TRUE(stands(b, "12000"));
  b.command("fan", 750);
  EXPECT_TRUE(stands(b, "30000"));
  const int first = b.pid("fan");
  ASSERT_EQ(::kill(first, SIGKILL), 0);
  EXPECT_TRUE(stands(b, "12000"));  // by the host that follows
  ASSERT_TRUE(b.until([&] { return b.pid("fan") != first && b.pid("fan") != 0; }, 5s));
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
  b.command("fan", 1000);
  EXPECT_TRUE(stands(b, "40000"));
  EXPECT_TRUE(b.stop());
  EXPECT_EQ(file("duty_cycle") + " " + file("enable"), "12000 1");
}

TEST_F(PwmHost, SaysWhatIsWrongWithTheBoard) {
  Bench b;
  OutputPlan missing = fan(kRest);
  missing.wiring_json.replace(missing.wiring_json.find("pwmchip0"), 8, "pwmchip9");
  b.drivers.want({missing});
  EXPECT_TRUE(b.until(
      [&] {
        return b.last_why("fan").find("no chip is 'pwmchip9'; there are: pwmchip0") !=
               std::string::npos;
      },
      5s))
      << b.last_why("fan");
}

TEST(GpioHost, SaysThatThereIsNoSuchLine) {
  Bench b;
  b.drivers.want({plan("fan", "gpio_line", R"({"line":"no such line"})")});
  EXPECT_TRUE(b.until(
      [&] {
        return b.last_why("fan").find("no line is named 'no such line'") != std::string::npos;
      },
      5s))
      << b.last_why("fan");
}

}  // namespace
}  // namespace tubwarden
