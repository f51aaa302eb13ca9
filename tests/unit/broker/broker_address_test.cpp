#include "shell/broker/broker_address.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "parts/parts.hpp"

namespace tubwarden {
namespace {

TEST(BrokerAddress, AsPahoWantsIt) {
  const std::pair<const char*, const char*> rows[] = {
      {"mqtt://127.0.0.1", "tcp://127.0.0.1:1883"},
      {"mqtt://broker.local:1884", "tcp://broker.local:1884"},
      {"mqtt://broker/", "tcp://broker:1883"},
      {"mqtts://broker", "ssl://broker:8883"},
      {"mqtts://broker:443", "ssl://broker:443"},
      {"mqtt://[::1]", "tcp://[::1]:1883"},
      {"mqtt://[::1]:1884", "tcp://[::1]:1884"}};
  for (const auto& [url, server] : rows) {
    const auto address = broker_address(url);
    ASSERT_TRUE(address) << url;
    EXPECT_EQ(address->server, server) << url;
    EXPECT_EQ(address->encrypted, std::string_view(url).starts_with("mqtts")) << url;
  }
}

TEST(BrokerAddress, RefusedWithWhatIsAllowed) {
  for (const char* url :
       {"", "broker", "tcp://broker", "http://broker", "mqtt://", "mqtt://:1883", "mqtt://broker:0",
        "mqtt://broker:65536", "mqtt://broker:x", "mqtt://broker:", "mqtt://user@broker",
        "mqtt://broker/path", "mqtt://[::1"}) {
    const auto address = broker_address(url);
    ASSERT_FALSE(address) << url;
    EXPECT_NE(address.error().text.find("mqtts://host[:port]"), std::string::npos) << url;
  }
}

TEST(UserFile, TwoLines) {
  const parts::TempFolder folder;
  folder.write("user", "tub\nse cret\n");
  const auto user = read_user_file(folder.path() / "user");
  ASSERT_TRUE(user);
  EXPECT_EQ(user->name, "tub");
  EXPECT_EQ(user->password, "se cret");
  folder.write("dos", "tub\r\nsecret\r\n");
  EXPECT_EQ(read_user_file(folder.path() / "dos")->password, "secret");
  folder.write("bare", "tub");
  ASSERT_TRUE(read_user_file(folder.path() / "bare"));
  EXPECT_EQ(read_user_file(folder.path() / "bare")->password, "");
}

TEST(UserFile, RefusedWithItsName) {
  const parts::TempFolder folder;
  ASSERT_EQ(::mkfifo((folder.path() / "pipe").c_str(), 0600), 0);
  EXPECT_EQ(read_user_file(folder.path() / "pipe").error().code, ErrorCode::bad_input);
  EXPECT_EQ(read_user_file(folder.path() / "none").error().code, ErrorCode::unavailable);
  EXPECT_NE(read_user_file(folder.path() / "none").error().text.find("none"), std::string::npos);
  folder.write("empty", "\nsecret\n");
  EXPECT_EQ(read_user_file(folder.path() / "empty").error().code, ErrorCode::bad_input);
  folder.write("long", std::string(5000, 'x'));
  EXPECT_EQ(read_user_file(folder.path() / "long").error().code, ErrorCode::bad_input);
  EXPECT_FALSE(read_user_file(folder.path())) << "a folder is no file";
}

}  // namespace
}  // namespace tubwarden
