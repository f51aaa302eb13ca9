/* The interface as a plugin written in C11 sees it. */
#include <stddef.h>

#include "sdk/plugin.h"

uint32_t plugin_size_in_c(void);
uint32_t plugin_size_in_c(void) { return (uint32_t)sizeof(struct tw_plugin); }

uint32_t host_option_offset_in_c(void);
uint32_t host_option_offset_in_c(void) { return (uint32_t)offsetof(struct tw_host, option); }
