/* The plugin interface of Tubwarden, ABI 1. Frozen: what stands here keeps its place, its size and
 * its meaning for as long as the number is 1. How to write a plugin: docs/plugins.md.
 *
 * A plugin is a shared object with one entry, tubwarden_plugin(). It is loaded by
 * tubwarden-plugin-host, never by the daemon, into a process of its own (RTLD_LOCAL), and never
 * unloaded. It leaves the process as it finds it: the locale, signal handlers, the working folder,
 * stdin and stdout are not its own.
 *
 * Threading: every call comes from the host's one thread; a plugin may have threads of its own, and
 * may call say, confirm and reachable of its host from any of them, until its close() returns.
 * Failure: calls return TW_OK or an error and say why through host->say. A call that does not
 * return (within the lease or 1.5 s, whichever is shorter; deliver: 90 s) is ended by the host's
 * watchdog, together with the process; a new process then opens the output and makes it safe.
 * Ownership: text belongs to who hands it over and is valid until the call returns; what is kept is
 * copied. What tubwarden_plugin() returns, and all it points to, stays for the life of the process.
 *
 * Growth: new members come at a struct's end, and `size` tells how much of it there is. The host
 * takes a longer tw_plugin than it knows and ignores the rest; a plugin reads no member of tw_host
 * or tw_output beyond their size. tw_option never grows. Anything else is another ABI number. */
#ifndef TUBWARDEN_PLUGIN_H
#define TUBWARDEN_PLUGIN_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define TW_ABI 1u

/* What a plugin is; one that is both has the calls of both, and one table of options. */
enum { TW_KIND_ACTUATOR = 1, TW_KIND_CHANNEL = 2 };
enum {
  TW_OK = 0,
  TW_BAD_OPTION = 1, /* the wiring is wrong: trying again is of no use */
  TW_FAILED = 2,
  /* Out of reach now, nothing is kept for later: host->reachable says when it is back. */
  TW_UNAVAILABLE = 3,
  TW_REFUSED = 4 /* deliver: the other side will not have it, however often it is tried */
};
enum { TW_DEBUG = 0, TW_INFO = 1, TW_WARNING = 2, TW_ERROR = 3 };

/* What an actuator can do, said without opening hardware. A host ignores bits it does not know. */
enum {
  TW_CAN_LEVEL = 1u << 0,  /* takes levels between 0 and 1000 permille; without it, 0 and 1000 */
  TW_IS_NETWORK = 1u << 1, /* can be cut off from the board: falls_by_itself_after applies */
  TW_HAS_WILL = 1u << 2,   /* someone else sets the safe level when the board is gone (a broker) */
  TW_NAMES_FILES = 1u << 3 /* opens no file but those of its options of type file and device, and
                              what its libraries read; the host holds it to that where it can */
};

/* One option of the wiring. Text is UTF-8. */
struct tw_option {
  const char* name;     /* a-z, 0-9 and _ */
  const char* type;     /* text | topic | number | integer | boolean | duration | list; file: a
                           full path to read; device: one to read and write */
  const char* range;    /* "1..65535", "100ms..60s", "a|b|c", or "" */
  const char* fallback; /* NULL: required */
  const char* help;     /* one sentence */
};

/* What the host offers, from open() until close() returns; for a channel, within deliver(). */
struct tw_host {
  uint32_t size;
  void* context; /* the host's, handed back in each call */
  /* A word for the journal. At TW_WARNING or above it is also why the call fails, for the grower.
   */
  void (*say)(void* context, uint32_t level, const char* text);
  /* The output's own word on how it stands now, if it has one. */
  void (*confirm)(void* context, uint32_t output, uint32_t level_permille);
  /* Called in open(): this output answers each change of its level through confirm. */
  void (*will_confirm)(void* context, uint32_t output);
  /* Whether the output can be reached now (taken for reachable until said otherwise). On its return
   * the host calls apply or make_safe, as the loan stands by then; the plugin itself repeats
   * nothing. */
  void (*reachable)(void* context, uint32_t output, uint32_t yes, const char* why);
  /* The value of an option: as the wiring gives it, else its fallback, else NULL. Durations come in
   * whole milliseconds ("20000"), booleans as "true" or "false", a list an item an index with NULL
   * after the last; what does not fit its type comes as it is written. Called in open() and
   * deliver() only; the text stays until they return. */
  const char* (*option)(void* context, const char* name, uint32_t index);
};

/* One output to open. */
struct tw_output {
  uint32_t size;
  const char* id;                    /* "chamber/actuator", for words */
  const char* wiring;                /* one JSON object: what host->option() reads */
  uint32_t safe_permille;            /* 0 or 1000 without TW_CAN_LEVEL */
  uint32_t lease_ms;                 /* at least 1 */
  uint32_t falls_by_itself_after_ms; /* 0: never */
  const char* site;                  /* one JSON object: {"broker": {"url", "user_file", ...}} */
};

struct tw_plugin {
  uint32_t abi;     /* TW_ABI */
  uint32_t size;    /* sizeof(struct tw_plugin) */
  uint32_t kind;    /* TW_KIND_ACTUATOR, TW_KIND_CHANNEL, or both */
  uint32_t can;     /* TW_CAN_LEVEL | ... */
  const char* name; /* its file's, without .so */
  const struct tw_option* options;
  uint32_t option_count; /* at most 64 */

  /* Actuators; all four, or none. */

  /* Gives the plugin's own handle; it must not switch anything yet. After an error there is no
   * handle and no close(). One process opens up to 64 outputs. */
  int32_t (*open)(const struct tw_host* host, uint32_t output, const struct tw_output* spec,
                  void** handle);
  /* Sets a level now. run_ms is for outputs with a timer of their own: what is left of the run, 0
   * when it holds; the host ends the run itself as well. Called again with the same sequence to
   * renew, within falls_by_itself_after_ms. */
  int32_t (*apply)(void* handle, uint32_t level_permille, uint32_t run_ms, uint32_t lease_ms,
                   uint64_t sequence);
  /* Sets the safe level and returns once it stands, as far as the output lets one know. Called
   * after open, on the end of the lease or of the daemon, and before close; repeated each second
   * while it fails. */
  int32_t (*make_safe)(void* handle);
  /* Frees the handle and switches nothing. Once for each open() that succeeded. */
  void (*close)(void* handle);

  /* Channels. One message as JSON: {"key", "rank", "state", "title", "text"}, and more one day;
   * returns when delivered, within 90 s. After TW_FAILED it is tried again, with the same key, so
   * that a second delivery can be known as one; after TW_BAD_OPTION and TW_REFUSED it is not. */
  int32_t (*deliver)(const struct tw_host* host, const char* wiring, const char* site,
                     const char* message);
};

/* The one entry, visible whatever the plugin is compiled with. Nothing may happen in it. */
#if defined(__GNUC__)
__attribute__((visibility("default")))
#endif
const struct tw_plugin*
tubwarden_plugin(void);

#ifdef __cplusplus
}
#endif
#endif
