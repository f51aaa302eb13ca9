// A record whose disk is full: tubs are kept all the same, and it is said.
#include <gtest/gtest.h>
#include <sched.h>
#include <sys/mount.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fstream>

#include "system/daemon/rig.hpp"

namespace {

using namespace rig;

const std::string kMister = "shed/tub-1/mister";

struct FullDisk : Rig, ::testing::Test {
  void SetUp() override {
    if (::geteuid() != 0 || ::unshare(CLONE_NEWNS) != 0) {
      GTEST_SKIP() << "a disk of its own: only root can mount one: " << std::strerror(errno);
    }
    const auto disk = folder().path() / "record";
    std::filesystem::create_directory(disk);
    ASSERT_EQ(::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr), 0);
    ASSERT_EQ(::mount("tubwarden", disk.c_str(), "tmpfs", 0, "size=4m"), 0);
    mounted_ = true;
    write_tub({});
    start();
    cli({"phase", "tub-1", "fruiting"});
    listener_ =
        std::make_unique<parts::Listener>(broker().url(), std::vector<std::string>{kMister});
  }
  void TearDown() override {
    if (mounted_) ::umount2((folder().path() / "record").c_str(), MNT_DETACH);
  }
  void fill() {
    std::ofstream filler(filler_path());
    const std::string page(4096, 'f');
    while (filler.write(page.data(), static_cast<std::streamsize>(page.size())).flush()) continue;
  }
  std::filesystem::path filler_path() { return folder().path() / "record" / "filler"; }
  bool hears(const std::string& payload, std::size_t from) {
    return listener_
        ->wait_for(
            kMister, [&](const parts::Heard& h) { return h.payload == payload; }, 10s, from)
        .has_value();
  }
  bool alerted() {
    const auto causes = alert_causes("site");
    return std::find(causes.begin(), causes.end(), "record_failed") != causes.end();
  }
  std::unique_ptr<parts::Listener> listener_;
  bool mounted_ = false;
};

TEST_F(FullDisk, TheRelayIsSwitchedAllTheSameAndItIsAnAlert) {
  fill();
  std::size_t n = listener_->heard(kMister).size();
  air("tub-1", 80.0);
  ASSERT_TRUE(hears("1", n)) << log();
  n = listener_->heard(kMister).size();
  air("tub-1", 95.0);
  ASSERT_TRUE(hears("0", n)) << log();
  cli({"note", "tub-1", "the disk is full"});  // an entry, which cannot be kept
  ASSERT_TRUE(wait([&] { return alerted(); })) << log();
  n = listener_->heard(kMister).size();
  air("tub-1", 80.0);
  EXPECT_TRUE(hears("1", n)) << log();
  std::filesystem::remove(filler_path());
  EXPECT_TRUE(wait([&] { return cli({"note", "tub-1", "there is room"}).status == 0; })) << log();
  EXPECT_EQ(stop(), 0);
  EXPECT_EQ(listener_->heard(kMister).back().payload, "0");
}

}  // namespace
