/* The plugin interface of Tubwarden, ABI 0: a draft until the plugin interface is frozen as ABI 1.
 *
 * A plugin is a shared object with one entry, tubwarden_plugin(). It is loaded by
 * tubwarden-plugin-host, never by the daemon, into a process of its own. Threading: every call
 * comes from the host's one thread; a plugin may have threads of its own, and may call say, confirm
 * and reachable of its host from any of them. Failure: calls return TW_OK or an error and say why
 * through host->say. A call that does not return (within the lease or 1.5 s, whichever is shorter)
 * is ended by the host's watchdog, together with the process; a new process then opens the output
 * and makes it safe. */
#ifndef TUBWARDEN_PLUGIN_H
#define TUBWARDEN_PLUGIN_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define TW_ABI 0u

enum { TW_KIND_ACTUATOR = 1, TW_KIND_CHANNEL = 2 };
enum {
  TW_OK = 0,
  TW_BAD_OPTION = 1, /* the wiring is wrong: trying again is of no use */
  TW_FAILED = 2,
  TW_UNAVAILABLE =
      3 /* out of reach now, nothing is kept for later: host->reachable says when it is back */
};
enum { TW_DEBUG = 0, TW_INFO = 1, TW_WARNING = 2, TW_ERROR = 3 };

/* What a plugin can do, said without opening hardware. */
enum {
  TW_CAN_LEVEL = 1u << 0, /* outputs take levels between 0 and 1000 permille */
  TW_IS_NETWORK = 1u << 1 /* outputs are reached over a network: falls_by_itself_after applies */
};

/* One option of the wiring. All text is static, UTF-8, owned by the plugin. */
struct tw_option {
  const char* name;
  const char* type;     /* text | topic | number | integer | boolean | duration | list */
  const char* range;    /* "1..65535", "a|b|c", or "" */
  const char* fallback; /* NULL: required */
  const char* help;     /* one sentence */
};

/* What the host offers. Valid from open() until close() returns. */
struct tw_host {
  uint32_t size;
  void* context; /* the host's, handed back in each call */
  void (*say)(void* context, uint32_t level, const char* text);
  /* The output's own word on how it stands now, if it has one. */
  void (*confirm)(void* context, uint32_t output, uint32_t level_permille);
  /* Called in open(): this output answers each change of its level through confirm. */
  void (*will_confirm)(void* context, uint32_t output);
  /* Whether the output can be reached now (taken for reachable until said otherwise). On its return
   * the host calls apply or make_safe, as the loan stands by then; the plugin itself repeats
   * nothing. */
  void (*reachable)(void* context, uint32_t output, uint32_t yes, const char* why);
};

/* One output to open. Text is the host's and valid during open() only. */
struct tw_output {
  uint32_t size;
  const char* id;     /* "chamber/actuator", for words */
  const char* wiring; /* one JSON object: the options */
  uint32_t safe_permille;
  uint32_t lease_ms;
  uint32_t falls_by_itself_after_ms; /* 0: never */
  const char* site;                  /* one JSON object: {"broker": {"url", "user_file", ...}} */
};

struct tw_plugin {
  uint32_t abi;  /* TW_ABI */
  uint32_t size; /* sizeof(struct tw_plugin) */
  uint32_t kind;
  uint32_t can;
  const char* name;
  const struct tw_option* options;
  uint32_t option_count;

  /* Actuators. open() gives the plugin's own handle; it must not switch anything yet. */
  int32_t (*open)(const struct tw_host* host, uint32_t output, const struct tw_output* spec,
                  void** handle);
  /* Sets a level now. run_ms is for outputs with a timer of their own: what is left of the run, 0
   * when it holds; the host ends the run itself as well. Called again with the same sequence to
   * renew, within falls_by_itself_after_ms. */
  int32_t (*apply)(void* handle, uint32_t level_permille, uint32_t run_ms, uint32_t lease_ms,
                   uint64_t sequence);

  /* Sets the safe level and returns once it stands, as far as the output lets one know. Called
   * after open, on the end of the lease or of the daemon, and before close. */
  int32_t (*make_safe)(void* handle);
  void (*close)(void* handle);

  /* Channels (draft). One message: {"key", "rank", "title", "text"} as JSON; returns when
   * delivered, within 90 s. The key is the same for each try, so that a second delivery can be
   * known as one. */
  int32_t (*deliver)(const struct tw_host* host, const char* wiring, const char* site,
                     const char* message);
};

/* The one entry. The table is static and lives as long as the process. */
const struct tw_plugin* tubwarden_plugin(void);

#ifdef __cplusplus
}
#endif
#endif
