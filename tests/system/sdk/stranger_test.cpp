// A plugin of a stranger's: built outside this tree, with what is installed and nothing else, and
// tried by the installed host.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "parts/parts.hpp"

namespace tubwarden {
namespace {

using namespace std::chrono_literals;
using testing::HasSubstr;

const std::string kExample = TUBWARDEN_SOURCE_DIR "/plugins/sdk/example/";

class Stranger : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder_ = new parts::TempFolder;
    const parts::Ran ran = parts::run({CMAKE_PROGRAM, "--install", TUBWARDEN_BUILD_DIR, "--prefix",
                                       prefix(), "--component", "plugin_sdk"},
                                      60s);
    ASSERT_EQ(ran.status, 0) << ran.out << ran.err;
  }
  static void TearDownTestSuite() {
    delete folder_;
    folder_ = nullptr;
  }
  static std::string path(const std::string& name) { return (folder_->path() / name).string(); }
  static std::string prefix() { return path("prefix"); }

  /// Configures and builds a project outside the tree; its output.
  static parts::Ran build(const std::string& source, const std::string& into) {
    parts::Ran ran =
        parts::run({CMAKE_PROGRAM, "-S", source, "-B", into, "-DCMAKE_PREFIX_PATH=" + prefix(),
                    "-DCMAKE_C_FLAGS=-Wall -Wextra -Wpedantic -Werror"},
                   90s);
    return ran.status == 0 ? parts::run({CMAKE_PROGRAM, "--build", into}, 90s) : ran;
  }

  static inline parts::TempFolder* folder_ = nullptr;
};

TEST_F(Stranger, builds_the_example_and_passes_every_case) {
  const parts::Ran built = build(prefix() + "/" TUBWARDEN_DOC_DIR "/plugin-example", path("build"));
  ASSERT_EQ(built.status, 0) << built.out << built.err;
  folder_->write("brightness", "0");
  folder_->write("options.json", R"({"wiring":{"file":")" + path("brightness") + R"("}})");
  const parts::Ran tried = parts::run({prefix() + "/bin/tubwarden-plugin-host", "--try",
                                       path("build/file_switch.so"), path("options.json")},
                                      60s);
  EXPECT_EQ(tried.status, 0) << tried.out << tried.err;
  EXPECT_THAT(tried.out, HasSubstr("file_switch.so: 9 passed, 0 failed, 2 not applicable"));
  EXPECT_EQ(parts::read_file(path("brightness")), "0") << "it is left safe";
}

TEST_F(Stranger, asks_for_the_abi_by_number) {
  folder_->write("another/CMakeLists.txt",
                 "cmake_minimum_required(VERSION 3.16)\nproject(another C)\n"
                 "find_package(TubwardenPlugin 2 REQUIRED)\n");
  const parts::Ran built = build(path("another"), path("build-another"));
  EXPECT_NE(built.status, 0);
  EXPECT_THAT(built.err, HasSubstr("requested version \"2\""));
}

TEST_F(Stranger, writes_in_cpp_and_installs_beside_the_others) {
  folder_->write("mine/CMakeLists.txt",
                 "cmake_minimum_required(VERSION 3.16)\nproject(mine CXX)\n"
                 "find_package(TubwardenPlugin 1 REQUIRED)\ntubwarden_add_plugin(mine mine.cpp)\n");
  folder_->write("mine/mine.cpp",
                 "#include <tubwarden/plugin.h>\n"
                 "static int32_t deliver(const tw_host*, const char*, const char*, const char*) {"
                 " return TW_OK; }\n"
                 "static const tw_plugin table = {TW_ABI, sizeof(tw_plugin), TW_KIND_CHANNEL, 0, "
                 "\"mine\", nullptr, 0, nullptr, nullptr, nullptr, nullptr, deliver};\n"
                 "extern \"C\" const tw_plugin* tubwarden_plugin(void) { return &table; }\n");
  const parts::Ran built = build(path("mine"), path("build-mine"));
  ASSERT_EQ(built.status, 0) << built.out << built.err;
  ASSERT_EQ(parts::run({CMAKE_PROGRAM, "--install", path("build-mine")}).status, 0);
  const parts::Ran told = parts::run({prefix() + "/bin/tubwarden-plugin-host", "--describe",
                                      prefix() + "/lib/tubwarden/plugins/mine.so"});
  EXPECT_EQ(told.status, 0) << told.err;
  EXPECT_THAT(told.out, HasSubstr(R"("kinds":["channel"])"));
}

TEST_F(Stranger, reads_the_example_in_the_document_as_it_is_built) {
  const std::string document = parts::read_file(TUBWARDEN_SOURCE_DIR "/docs/plugins.md");
  const std::string code = parts::read_file(kExample + "file_switch.c");
  EXPECT_NE(document.find("```c\n" + code + "```"), std::string::npos);
  EXPECT_NE(document.find("```cmake\n" + parts::read_file(kExample + "CMakeLists.txt") + "```"),
            std::string::npos);
  EXPECT_LE(std::count(code.begin(), code.end(), '\n'), 60);
}

}  // namespace
}  // namespace tubwarden
