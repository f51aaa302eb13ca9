#include "host/voice.hpp"

#include <gtest/gtest.h>

#include <thread>

namespace tubwarden::host {
namespace {

TEST(Voice, words_of_another_thread_arrive_in_order_and_wake_the_host) {
  Voice voice;
  const auto mouth = voice.mouth("tub/fan");
  EXPECT_FALSE(voice.wait(0));
  std::thread other([&] {
    mouth->host.say(mouth->host.context, TW_WARNING, "dry");
    mouth->host.confirm(mouth->host.context, 3, 1000);
    mouth->host.reachable(mouth->host.context, 3, 0, "away");
  });
  EXPECT_TRUE(voice.wait(10000));
  other.join();
  const auto all = voice.take();
  ASSERT_EQ(all.size(), 3u);
  EXPECT_EQ(all[0],
            protocol::ToDaemon(protocol::Said{protocol::SayLevel::warning, "tub/fan: dry"}));
  EXPECT_EQ(all[1], protocol::ToDaemon(protocol::Confirm{3, 1000}));
  EXPECT_EQ(all[2], protocol::ToDaemon(protocol::Reach{3, false, "away"}));
  EXPECT_FALSE(voice.wait(0));
  EXPECT_EQ(voice.why(*mouth, "nothing"), "dry");
  EXPECT_EQ(voice.why(*mouth, "nothing"), "nothing") << "told once";
}

TEST(Voice, a_flood_of_words_is_counted_and_leaves_room_for_confirmations) {
  Voice voice;
  const auto mouth = voice.mouth("x");
  for (int i = 0; i < 1000; ++i) mouth->host.say(mouth->host.context, TW_INFO, "again");
  mouth->host.confirm(mouth->host.context, 1, 0);
  const auto all = voice.take();
  EXPECT_LE(all.size(), 256u);
  EXPECT_EQ(all[all.size() - 2], protocol::ToDaemon(protocol::Confirm{1, 0}));
  const auto* lost = std::get_if<protocol::Said>(&all.back());
  ASSERT_NE(lost, nullptr);
  EXPECT_EQ(lost->text, "808 words of the plugin were lost");
}

TEST(Voice, wild_values_of_a_plugin_are_bounded) {
  Voice voice;
  const auto mouth = voice.mouth("x");
  mouth->host.say(mouth->host.context, 99, nullptr);
  mouth->host.say(mouth->host.context, 0, std::string(5000, 'y').c_str());
  mouth->host.confirm(mouth->host.context, 1, 5000);
  const auto all = voice.take();
  ASSERT_EQ(all.size(), 3u);
  EXPECT_EQ(std::get<protocol::Said>(all[0]).level, protocol::SayLevel::error);
  EXPECT_LE(std::get<protocol::Said>(all[1]).text.size(), 1010u);
  EXPECT_EQ(std::get<protocol::Confirm>(all[2]).level_permille, 1000u);
}

}  // namespace
}  // namespace tubwarden::host
