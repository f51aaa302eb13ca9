/* A driver in full: switches whatever a file of the kernel switches, such as an LED's
 * /sys/class/leds/NAME/brightness, by writing one text to run and another to rest. */
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <tubwarden/plugin.h>
#include <unistd.h>

struct output {
  const struct tw_host* host; /* the host's, until close() returns */
  int file, safe;             /* safe: runs when it is safe */
  char run[16], rest[16];
};

static int32_t fail(const struct tw_host* host, int32_t code, const char* why) {
  host->say(host->context, TW_ERROR, why); /* the words that the grower reads */
  return code;
}

/* Reads the options and takes hold of the output. It switches nothing yet. */
static int32_t open_output(const struct tw_host* host, uint32_t number,
                           const struct tw_output* spec, void** handle) {
  const char* path = host->option(host->context, "file", 0); /* NULL: not given */
  const char* run = host->option(host->context, "run", 0);   /* given, or the fallback */
  const char* rest = host->option(host->context, "rest", 0);
  (void)number; /* only for confirm() and reachable(), which a file has no use for */
  if (!path || path[0] != '/') return fail(host, TW_BAD_OPTION, "wiring: file: a full path");
  if (strlen(run) > 15 || strlen(rest) > 15 || !strcmp(run, rest))
    return fail(host, TW_BAD_OPTION, "wiring: run and rest: two texts of at most 15 letters");
  struct output* o = calloc(1, sizeof *o);
  if (!o) return fail(host, TW_FAILED, "no memory");
  o->host = host;
  o->safe = spec->safe_permille != 0;
  strcpy(o->run, run); /* what is kept is copied: option()'s text ends with this call */
  strcpy(o->rest, rest);
  o->file = open(path, O_WRONLY | O_CLOEXEC);
  if (o->file < 0) return free(o), fail(host, TW_FAILED, "the file cannot be opened to write");
  *handle = o;
  return TW_OK;
}

static int32_t apply(void* h, uint32_t level, uint32_t run_ms, uint32_t lease_ms, uint64_t seq) {
  struct output* o = h;
  const char* text = level ? o->run : o->rest; /* 0 or 1000: there is no TW_CAN_LEVEL below */
  (void)run_ms, (void)lease_ms, (void)seq;     /* the host ends the run, and minds the lease */
  if (pwrite(o->file, text, strlen(text), 0) == (ssize_t)strlen(text)) return TW_OK;
  return fail(o->host, TW_FAILED, "the file cannot be written");
}
static int32_t make_safe(void* h) { return apply(h, ((struct output*)h)->safe, 0, 0, 0); }
static void close_output(void* h) { close(((struct output*)h)->file), free(h); }

static const struct tw_option options[] = {
    {"file", "text", "", NULL, "The file that is written to."},
    {"run", "text", "", "1", "What makes it run."},
    {"rest", "text", "", "0", "What makes it rest."}};
static const struct tw_plugin plugin = {TW_ABI, sizeof plugin, TW_KIND_ACTUATOR, 0, "file_switch",
    options, 3, open_output, apply, make_safe, close_output, NULL};
const struct tw_plugin* tubwarden_plugin(void) { return &plugin; }
