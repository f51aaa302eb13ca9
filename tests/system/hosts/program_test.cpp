// A grower's own program as a driver: what it is given, and what its end means.
#include <gtest/gtest.h>

#include "bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

class ProgramDriver : public testing::Test {
 protected:
  /// A shell script in the test's folder, as a wiring.
  std::string script(const std::string& text, const std::string& more = "") {
    folder_.write("switch", "#!/bin/sh\ncd " + folder_.path().string() + "\n" + text + "\n");
    std::filesystem::permissions(folder_.path() / "switch", std::filesystem::perms::owner_all);
    return R"({"argv":[")" + (folder_.path() / "switch").string() + R"(","fan 1; x"])" + more + "}";
  }
  std::string read(const std::string& name) const {
    std::ifstream in(folder_.path() / name);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  bool wrote(Bench& b, const std::string& name, const std::string& text) {
    return b.until([&] { return read(name) == text; });
  }

  const parts::TempFolder folder_;
};

TEST_F(ProgramDriver, gets_the_level_as_its_last_argument_and_nothing_else_of_ours) {
  Bench b;
  const std::string wiring = script(
      "env > variables; ls -l /proc/self/fd | wc -l > open; cat > in; echo \"$# $1 $2\" >> calls");
  b.drivers.want({plan("fan", "program", wiring, seconds(3), 250)});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  EXPECT_EQ(read("calls"), "2 fan 1; x 250\n") << "safe once it is open";
  b.command("fan", kRun, milliseconds(200));
  EXPECT_TRUE(wrote(b, "calls", "2 fan 1; x 250\n2 fan 1; x 1000\n2 fan 1; x 0\n"))
      << read("calls");
  EXPECT_EQ(read("in"), "");
  std::istringstream variables(read("variables"));
  for (std::string line; std::getline(variables, line);) {
    const std::string name = line.substr(0, line.find('='));
    EXPECT_TRUE(name == "PATH" || name == "LANG" || name == "PWD" || name == "OLDPWD" ||
                name == "_" || name == "SHLVL")
        << line;
  }
  EXPECT_LE(std::stoi(read("open")), 5) << "0, 1, 2, what ls itself opened, and its heading";
}

TEST_F(ProgramDriver, a_failing_exit_code_is_told_with_its_words_and_the_output_made_safe) {
  Bench b;
  b.drivers.want({plan("fan", "program",
                       script("echo $2 >> calls; test $2 = 0 || { echo no bus >&2; exit 4; }"))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  b.command("fan", kRun);
  EXPECT_TRUE(b.until([&] { return read("calls").starts_with("0\n1000\n0\n"); })) << read("calls");
  ASSERT_TRUE(b.until([&] { return b.said("exit code 4: no bus"); }));
}

TEST_F(ProgramDriver, one_that_does_not_end_is_killed_with_what_it_started_and_the_host_lives) {
  Bench b;
  const std::string hang = "test $2 = 0 && exit 0\nsleep 1000 & echo $! > child; wait";
  b.drivers.want({plan("fan", "program", script(hang, R"(,"switch_timeout":"300ms")"))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  const int host = b.pid("fan");
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return b.said("did not end within 300 ms"); }));
  const int child = std::stoi(read("child"));
  EXPECT_TRUE(parts::wait_until(
      [&] {
        std::ifstream file("/proc/" + std::to_string(child) + "/stat");
        std::string stat;
        return !std::getline(file, stat) || stat.find(") Z") != std::string::npos;
      },
      5s));
  EXPECT_EQ(b.pid("fan"), host);
}

TEST_F(ProgramDriver, one_that_writes_without_end_is_told_of_briefly) {
  Bench b;
  const std::string loud =
      "test $2 = 0 && exit 0\nhead -c 300000 /dev/zero | tr '\\0' x >&2; "
      "head -c 300000 /dev/zero; exit 9";
  b.drivers.want({plan("fan", "program", script(loud))});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::ready)) << b.last_why("fan");
  b.command("fan", kRun);
  ASSERT_TRUE(b.until([&] { return b.said("exit code 9: xxx"); }));
  for (const std::string& word : b.words) EXPECT_LT(word.size(), 1200u);
}

struct Wrong {
  const char* wiring;
  const char* word;
};
void PrintTo(const Wrong& w, std::ostream* out) { *out << w.wiring; }
class ProgramWiring : public testing::TestWithParam<Wrong> {};

TEST_P(ProgramWiring, that_is_wrong_is_named) {
  Bench b;
  b.drivers.want({plan("fan", "program", GetParam().wiring)});
  ASSERT_TRUE(b.until_health("fan", OutputHealth::failed_safe, 20s));
  EXPECT_NE(b.last_why("fan").find(GetParam().word), std::string::npos) << b.last_why("fan");
}

INSTANTIATE_TEST_SUITE_P(
    Wirings, ProgramWiring,
    testing::Values(Wrong{"{}", "'argv' is required"},
                    Wrong{R"({"argv":["switch"]})", "full path of a program"},
                    Wrong{R"({"argv":["/bin/true"],"switch_timeout":"2s"})", "50ms to 1400ms"},
                    Wrong{R"({"argv":["/bin/true"],"switch_timeout":"soon"})", "'soon'"}));

}  // namespace
}  // namespace tubwarden
