// ABI 1 of the plugin interface is frozen. These figures are what plugins in the field were built
// with. When an assertion here fails, the change breaks them: take it back, or put the new member
// at the end of its struct (a new figure for the size, all offsets as they were, and a reader that
// looks at `size` first), or count TW_ABI up, start new figures, and say so in docs/plugins.md.
#include <gtest/gtest.h>

#include <cstddef>
#include <type_traits>

#include "sdk/plugin.h"

namespace {

static_assert(TW_ABI == 1);
static_assert(TW_KIND_ACTUATOR == 1 && TW_KIND_CHANNEL == 2);
static_assert(TW_OK == 0 && TW_BAD_OPTION == 1 && TW_FAILED == 2 && TW_UNAVAILABLE == 3);
static_assert(TW_REFUSED == 4);
static_assert(TW_DEBUG == 0 && TW_INFO == 1 && TW_WARNING == 2 && TW_ERROR == 3);
static_assert(TW_CAN_LEVEL == 1 && TW_IS_NETWORK == 2 && TW_HAS_WILL == 4 && TW_NAMES_FILES == 8);

// The version comes first on every machine, so that any host can read it of any plugin.
static_assert(offsetof(tw_plugin, abi) == 0 && offsetof(tw_plugin, size) == 4);
static_assert(offsetof(tw_host, size) == 0 && offsetof(tw_output, size) == 0);

static_assert(std::is_standard_layout_v<tw_plugin> && std::is_trivial_v<tw_plugin>);
static_assert(std::is_standard_layout_v<tw_host> && std::is_standard_layout_v<tw_output>);
static_assert(std::is_same_v<decltype(tw_plugin::apply),
                             int32_t (*)(void*, uint32_t, uint32_t, uint32_t, uint64_t)>);

#if defined(__x86_64__)
static_assert(sizeof(tw_option) == 40);
static_assert(offsetof(tw_option, name) == 0 && offsetof(tw_option, type) == 8);
static_assert(offsetof(tw_option, range) == 16 && offsetof(tw_option, fallback) == 24);
static_assert(offsetof(tw_option, help) == 32);

static_assert(sizeof(tw_host) == 56);
static_assert(offsetof(tw_host, context) == 8 && offsetof(tw_host, say) == 16);
static_assert(offsetof(tw_host, confirm) == 24 && offsetof(tw_host, will_confirm) == 32);
static_assert(offsetof(tw_host, reachable) == 40 && offsetof(tw_host, option) == 48);

static_assert(sizeof(tw_output) == 48);
static_assert(offsetof(tw_output, id) == 8 && offsetof(tw_output, wiring) == 16);
static_assert(offsetof(tw_output, safe_permille) == 24 && offsetof(tw_output, lease_ms) == 28);
static_assert(offsetof(tw_output, falls_by_itself_after_ms) == 32);
static_assert(offsetof(tw_output, site) == 40);

static_assert(sizeof(tw_plugin) == 80);
static_assert(offsetof(tw_plugin, kind) == 8 && offsetof(tw_plugin, can) == 12);
static_assert(offsetof(tw_plugin, name) == 16 && offsetof(tw_plugin, options) == 24);
static_assert(offsetof(tw_plugin, option_count) == 32 && offsetof(tw_plugin, open) == 40);
static_assert(offsetof(tw_plugin, apply) == 48 && offsetof(tw_plugin, make_safe) == 56);
static_assert(offsetof(tw_plugin, close) == 64 && offsetof(tw_plugin, deliver) == 72);
#endif

extern "C" uint32_t plugin_size_in_c(void);
extern "C" uint32_t host_option_offset_in_c(void);

TEST(Abi, is_the_same_to_a_plugin_in_c) {
  EXPECT_EQ(plugin_size_in_c(), sizeof(tw_plugin));
  EXPECT_EQ(host_option_offset_in_c(), offsetof(tw_host, option));
}

}  // namespace
