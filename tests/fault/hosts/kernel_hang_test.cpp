// A driver that hangs in the kernel, where no signal ends it: nobody can make its output safe
// before the kernel lets go, and that must be said, at once, while everything else goes on.
#include <gtest/gtest.h>
#include <signal.h>

#include "fault/hosts/fuse_file.hpp"
#include "system/hosts/bench.hpp"

namespace tubwarden {
namespace {

using namespace bench;

class KernelHang : public testing::Test {
 protected:
  void SetUp() override {
    if (const auto why = FuseFile::missing()) GTEST_SKIP() << "FUSE: " << *why;
    std::filesystem::create_directory(folder_.path() / "disk");
    disk_ = std::make_unique<FuseFile>(folder_.path() / "disk");
  }
  void TearDown() override { disk_.reset(); }

  /// The level that the relay heard last.
  std::string level() const {
    const auto all = disk_->written();
    return all.empty() ? "" : all.back().text.substr(all.back().text.rfind(' ') + 1);
  }
  void hang(Bench& b) {
    ASSERT_TRUE(b.until_health("fan", OutputHealth::ready));
    ASSERT_EQ(level(), "0\n");
    disk_->hold();
    b.command("fan", kRun);
    ASSERT_TRUE(b.until([&] { return disk_->held() == 1; }));
    ASSERT_EQ(level(), "1000\n");
  }
  OutputPlan fan() const {
    OutputPlan result = plan("fan", "simulated", file_wiring(disk_->path()), milliseconds(900));
    result.own_process = true;
    return result;
  }
  static bool alive(int pid) {
    std::ifstream file("/proc/" + std::to_string(pid) + "/stat");
    std::string stat;
    return std::getline(file, stat) && stat.find(") Z") == std::string::npos;
  }

  parts::TempFolder folder_;
  std::unique_ptr<FuseFile> disk_;
};

TEST_F(KernelHang, is_told_as_unsafe_and_the_output_is_made_safe_once_the_kernel_lets_go) {
  Bench b;
  const auto other = folder_.path() / "other";
  b.drivers.want({fan(), plan("mister", "simulated", file_wiring(other))});
  ASSERT_TRUE(b.until_health("mister", OutputHealth::ready));
  hang(b);
  const int pid = b.pid("fan");
  const auto began = parts::Steady::now();
  ASSERT_TRUE(b.until_health("fan", OutputHealth::unsafe, 20s));
  std::printf("kernel_hang_told_ms %.0f (lease 900 ms, a second for the old host to end)\n",
              std::chrono::duration<double, std::milli>(parts::Steady::now() - began).count());
  EXPECT_NE(b.last_why("fan").find("the old host does not end"), std::string::npos)
      << b.last_why("fan");
  ::kill(pid, SIGKILL);
  b.command("mister", kRun);
  EXPECT_TRUE(b.until([&] { return simulated_lines(other).back().level == kRun; }))
      << "what is beside it goes on";
  EXPECT_TRUE(alive(pid)) << "the very point: SIGKILL does not end it";
  EXPECT_EQ(disk_->held(), 1u) << "nobody else has written while the old host could";
  const std::size_t before = disk_->written().size();
  disk_->let_go();
  ASSERT_TRUE(b.until([&] { return disk_->written().size() > before && level() == "0\n"; }));
  ASSERT_TRUE(b.until([&] { return !alive(pid); }));
  EXPECT_EQ(b.health("fan"), OutputHealth::unsafe) << "somebody must have looked";
  b.drivers.release({"tub", "fan"});
  EXPECT_TRUE(b.until_health("fan", OutputHealth::ready));
}

TEST_F(KernelHang, does_not_keep_the_daemon_from_ending) {
  const auto list = folder_.path() / "outputs.list";
  Bench b(kPlugins, "{}", list.string());
  b.drivers.want({fan()});
  hang(b);
  const int pid = b.pid("fan");
  ASSERT_TRUE(b.stop());
  EXPECT_TRUE(alive(pid));
  EXPECT_TRUE(b.said("does not end"));
  EXPECT_NE(parts::read_file(list).find("tub/fan"), std::string::npos)
      << "the stop-post step must know what was left";
}

}  // namespace
}  // namespace tubwarden
