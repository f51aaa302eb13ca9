"""The rules of the tree, each a function Tree -> [Finding]. selftest.py: each can fail."""
import re

from source import CPP, Finding, functions, line_of

# --- who may include whom -------------------------------------------------------------------------

# Room -> rooms it may include besides itself. A room is the longest of these names that begins a
# file's folder (below daemon/ or plugins/); what is not listed may include nothing.
ROOMS = {
    "base": (),
    "core/air": ("base",),
    "core/output": ("base",),
    "core/alert": ("base",),
    "core/grow": ("base", "core/air"),
    "core/kitchen": ("base", "core/air"),
    "core/ledger": ("base", "core/air", "core/forecast"),
    "core/sensing": ("base", "core/air"),
    "core/climate": ("base", "core/air", "core/output"),
    "core/fit": ("base", "core/air", "core/climate"),
    "core/forecast": ("base", "core/air"),
    "core/chamber": ("base", "core"),
    "ports": ("base", "core"),
    "settings": ("base", "core"),
    "rehearsal": ("base", "core", "ports"),
    "shell/log": ("base",),
    "shell/loop": ("base", "core", "ports"),
    "shell/broker": ("base", "core", "ports"),
    "shell/record": ("base", "core", "ports"),
    "shell/control": ("base", "core", "ports"),
    "shell/sheet": ("base", "core", "ports"),
    "shell/service": ("base",),
    "shell/warden": ("base", "core", "ports", "settings"),
    "shell/hosts": ("base", "core", "ports", "settings", "sdk"),
    "programs": ("base", "core", "ports", "settings", "rehearsal", "shell", "programs"),
    "programs/cli": ("base", "core", "ports", "settings", "rehearsal", "shell"),
    "programs/chamber": ("base", "core", "ports", "settings", "rehearsal", "shell"),
    "programs/tubwardend": ("base", "core", "ports", "settings", "shell"),
    "sdk": ("base",),
    "host": ("base", "core/output", "sdk"),
    "gpio_line": ("base", "core/output", "sdk"),
    "iio_sensor": ("base", "sdk", "mqtt_site"),
    "mqtt_relay": ("base", "core/output", "sdk", "mqtt_site"),
    "modbus_coil": ("base", "core/output", "sdk"),
    "program": ("base", "core/output", "sdk"),
    "pwm": ("base", "core/output", "sdk"),
    "simulated": ("base", "core/output", "sdk"),
    "courier": ("base",),
    "mqtt_site": ("base", "sdk"),
    "mqtt_note": ("base", "sdk", "mqtt_site"),
    "webhook": ("base", "sdk", "courier"),
    "email": ("base", "sdk", "courier"),
}
# One file of another room, and why.
INCLUDES_ALLOWED = {
    # A plugin that speaks MQTT reads the broker's address and user file as the daemon does.
    ("mqtt_site", "shell/broker/broker_address.hpp"),
    # A program of its own, which speaks to the same broker by the same connection.
    ("iio_sensor", "shell/broker/broker_address.hpp"),
    ("iio_sensor", "mqtt_relay/relay_link.hpp"),
}
# A library is known to these rooms only.
LIBRARIES = {
    "boost/": ("shell", "programs", "rehearsal"),
    "boost/math/": ("core/forecast",),
    "Eigen/": ("core/forecast", "rehearsal"),
    "unsupported/Eigen/": ("core/forecast", "rehearsal"),
    "nlohmann/": ("core/sensing", "settings", "rehearsal", "shell", "programs", "sdk"),
    "yaml-cpp/": ("settings",),
    "sqlite3": ("shell/record",),
    "spdlog/": ("shell/log",),
    "mqtt/": ("shell/broker",),
    "MQTT": ("shell/broker", "mqtt_relay", "mqtt_note"),
    "CLI/": ("programs",),
    "qrencode": ("programs/cli",),
    "openssl/": ("shell/sheet", "shell/record"),
    "prometheus/": ("shell/sheet",),
    "zlib": ("shell/sheet",),
    "systemd/": ("shell/service",),
    "modbus/": ("modbus_coil",),
    "gpiod": ("gpio_line",),
    "curl/": ("courier", "email", "webhook"),
}
# Libraries that cost seconds a file stay out of headers other rooms include.
HEAVY = ("yaml-cpp/", "spdlog/", "mqtt/", "MQTT", "CLI/", "boost/beast", "boost/asio.hpp")
# The core computes: no thread, file, clock, socket or terminal.
IMPURE_HEADERS = (
    "thread", "mutex", "shared_mutex", "condition_variable", "future", "atomic", "semaphore",
    "latch", "barrier", "stop_token", "fstream", "filesystem", "iostream", "random", "ctime",
    "csignal", "locale")

_INCLUDE = re.compile(r'^[ \t]*#include ([<"])([^>"]+)[>"]', re.M)


def room_of(path):
    """daemon/shell/log/log.cpp -> shell/log; nothing for what is no room."""
    folder = path.rsplit("/", 1)[0].split("/", 1)
    if folder[0] not in ("daemon", "plugins") or len(folder) < 2:
        return None
    return longest(folder[1], ROOMS)


def longest(name, rooms):
    fitting = [room for room in rooms if name == room or name.startswith(room + "/")]
    return max(fitting, key=len, default=None)


def _includes(tree):
    for path, text in tree.under("daemon", "plugins"):
        for match in _INCLUDE.finditer(text):
            yield path, line_of(text, match.start()), match.group(1), match.group(2)


def include_direction(tree):
    """base <- core <- ports <- shell <- programs; the rooms of the shell do not see each other."""
    found = []
    for path, _ in tree.under("daemon", "plugins"):
        if room_of(path) is None:
            found.append(Finding(path, 0, "lies in no room that tests/tidy/rules.py knows"))
    for path, line, kind, name in _includes(tree):
        room = room_of(path)
        if kind != '"' or room is None or (room, name) in INCLUDES_ALLOWED:
            continue
        target = name.rsplit("/", 1)[0]
        if longest(target, (room, *ROOMS[room])) is None:
            found.append(Finding(path, line, f"{room} may not see {target}"))
        elif longest(target, ROOMS) != room and room.startswith("programs/") \
                and target.startswith("programs"):
            found.append(Finding(path, line, "one program does not see another"))
    return found


def library_rooms(tree):
    """A library is known to the rooms that are for it, and a heavy one to no shared header."""
    found = []
    for path, line, kind, name in _includes(tree):
        room = room_of(path)
        if kind != "<" or room is None:
            continue
        library = max(filter(name.startswith, LIBRARIES), key=len, default=None)
        if library and longest(room, LIBRARIES[library]) is None:
            found.append(Finding(path, line, f"{room} may not know <{name}>"))
        if path.endswith((".hpp", ".h")) and name.startswith(HEAVY):
            found.append(Finding(path, line, f"<{name}> is heavy and stands in a header"))
    return found


def pure_core(tree):
    """base and core know neither thread nor file nor clock nor system."""
    found = []
    for path, line, kind, name in _includes(tree):
        if kind != "<" or not (room_of(path) or "").startswith(("base", "core")):
            continue
        if name in IMPURE_HEADERS or name.endswith(".h") and not name.startswith("fmt/"):
            found.append(Finding(path, line, f"<{name}> does not belong in pure code"))
        elif room_of(path) == "base" and "/" in name:
            found.append(Finding(path, line, f"base has the standard library only, not <{name}>"))
    return found


# --- calls and words ------------------------------------------------------------------------------

_IMPURE_CALLS = re.compile(
    r"\b(\w+_clock\s*::\s*now|Clock\s*::\s*now|clock_gettime|gettimeofday"
    r"|time\s*\(\s*(?:0|NULL|nullptr)|std::j?thread|std::async|sleep_(?:for|until)|usleep"
    r"|nanosleep|f?open\s*\(|std::[io]?fstream"
    r"|getenv|s?rand\s*\(|random_device|localtime|std::c(?:out|err|log)\b)")
_NEVER = re.compile(
    r"(?<![\w.>])((?:std::|::)?"
    r"(?:system|popen|gets|sprintf|vsprintf|strcpy|strcat|strtok|tmpnam|mktemp)\s*\("
    r"|assert\s*\(|asio::detached\b|using namespace std\b(?!::))")


def banned_calls_in_pure_code(tree):
    """Time, chance and the system are arguments of core, base and the model."""
    return [
        Finding(path, line_of(tree.code(path), match.start()), f"'{match.group(1)}' in pure code")
        for path, _ in tree.under("daemon/base", "daemon/core", "daemon/rehearsal")
        for match in _IMPURE_CALLS.finditer(tree.code(path))]


def banned_calls(tree):
    """Calls that are wrong everywhere: unbounded strings, a shell, assert, swallowed exceptions."""
    return [
        Finding(path, line_of(tree.code(path), match.start()), f"banned: {match.group(1).strip()}")
        for path, _ in tree.under("daemon", "plugins")
        for match in _NEVER.finditer(tree.code(path))]


_SLEEP = re.compile(r"\b(sleep_(?:for|until)|usleep|nanosleep|sleep)\s*\(")
# Sleeps that do not hope: the one place that polls for a sign, and one that waits for a known
# instant.
SLEEPS_ALLOWED = ("tests/parts/wait.cpp", "tests/unit/plugins/outputs_test.cpp")


def sleeps_in_tests(tree):
    """A test waits for a sign."""
    return [
        Finding(path, line_of(tree.code(path), match.start()), "wait for a sign: wait_until")
        for path, _ in tree.under("tests") if path not in SLEEPS_ALLOWED
        for match in _SLEEP.finditer(tree.code(path))]


def defaults_in_switches(tree):
    """A closed set has no default: the compiler names the forgotten case."""
    found = []
    for path, text in tree.under("daemon", "plugins"):
        lines = text.split("\n")
        for match in re.finditer(r"\bdefault\s*:", tree.code(path)):
            line = line_of(tree.code(path), match.start())
            if "open set" not in lines[line - 1]:
                found.append(Finding(path, line, "default in a switch; where the set is not ours "
                                     "to close, say so: '// an open set: why'"))
    return found


def heads(tree):
    """Every header opens with what it is for, its Threading: and its Failure:."""
    found = []
    for path, text in tree.under("daemon", "plugins", "tests", ends=(".hpp", ".h")):
        head = text.split("\n#", 1)[0]
        if not head.startswith(("//", "/*")):
            found.append(Finding(path, 1, "opens without a head"))
            continue
        if path.startswith("tests/") and not path.startswith("tests/parts/"):
            continue  # a test's own header says what it is for
        for part in ("Threading:", "Failure:"):
            if part not in head:
                found.append(Finding(path, 1, f"the head says no {part}"))
    return found


# --- sizes ----------------------------------------------------------------------------------------

FUNCTION_LINES_MAX, FILE_LINES_MAX, COLUMNS_MAX = 70, 400, 100
OVER = "tests/tidy/over.txt"
_CODE_ENDS = (*CPP, ".py", ".sh")


def over_list(text):
    """'path what size' a line -> {(path, what): size}."""
    rows = [line.split() for line in text.split("\n") if line.strip() and not line.startswith("#")]
    return {(path, what): int(size) for path, what, size in rows}


def measured(tree):
    """(path, what) -> (size, line) of everything over its limit."""
    over = {}
    for path, text in tree.files.items():
        if not path.endswith(_CODE_ENDS):
            continue
        lines = text.split("\n")
        if len(lines) - 1 > FILE_LINES_MAX:
            over[path, "lines"] = (len(lines) - 1, 1)
        widths = [(len(line), number) for number, line in enumerate(lines, 1)]
        if max(widths)[0] > COLUMNS_MAX:
            over[path, "columns"] = max(widths)
        if path.endswith(CPP):
            for function in functions(tree.code(path)):
                if function.lines > FUNCTION_LINES_MAX:
                    size = (function.lines, function.line)
                    over[path, function.name] = max(size, over.get((path, function.name), size))
    return over


def sizes(tree):
    """Functions under 70 lines, files under 400, 100 columns; what is over stands in a list that
    only shrinks."""
    allowed, found = over_list(tree.files.get(OVER, "")), []
    over = measured(tree)
    for (path, what), (size, line) in over.items():
        if size > allowed.get((path, what), 0):
            found.append(Finding(path, line, f"{what}: {size} is over the limit"))
    for (path, what), size in allowed.items():
        now = over.get((path, what), (0, 0))[0]
        if now < size:
            told = f"{now}: write that" if now else "within the limit: strike it"
            found.append(Finding(OVER, 0, f"'{path} {what} {size}' is now {told}"))
    return found


# --- the tree as a whole --------------------------------------------------------------------------

TOP_LEVEL = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE", "daemon", "plugins",
             "config", "tests", "systemd", "docs"}


def top_level(tree):
    """The top level is exactly what it is, and nothing of a build is kept."""
    names = {path.split("/", 1)[0] for path in tree.files}
    extra = sorted(name for name in names - TOP_LEVEL if not name.startswith("."))
    return [Finding(name, 0, "does not belong at the top") for name in extra] + [
        Finding(name, 0, "is missing at the top") for name in sorted(TOP_LEVEL - names)]


_MACHINE = re.compile(
    r"(?<![\w.])/(?:home|root|mnt|work|workspace|Users)/[\w.]+|/tmp/(?!tubwarden)\w")


def machine_paths(tree):
    """No path of somebody's machine."""
    return [
        Finding(path, line_of(text, match.start()), f"a path of one machine: {match.group(0)}")
        for path, text in tree.files.items() if not path.startswith("tests/tidy/")
        for match in _MACHINE.finditer(text)]


_LINK = re.compile(r"\[[^\]]*\]\((?!https?:|mailto:|#)([^)#\s]+)[^)]*\)")


def links(tree):
    """A link of a document leads somewhere."""
    found = []
    for path, text in tree.files.items():
        if not path.endswith(".md"):
            continue
        folder = path.split("/")[:-1]
        for match in _LINK.finditer(text):
            parts = list(folder)
            for part in match.group(1).rstrip("/").split("/"):
                if part == "..":
                    parts = parts[:-1]
                elif part != ".":
                    parts.append(part)
            target = "/".join(parts)
            if target not in tree.files and not any(f.startswith(target + "/") for f in tree.files):
                found.append(Finding(path, line_of(text, match.start()),
                                     f"leads nowhere: {match.group(1)}"))
    return found


WORDS = "daemon/programs/cli/words"
_COMMAND = re.compile(r"(?:^|[`(]|\$ )tubwarden (?:--socket \S+ )?([a-z][a-z-]*)", re.M)


def documented_commands(tree):
    """A command that a document or an example names is one that there is."""
    words = "".join(text for path, text in tree.files.items()
                    if path.startswith(WORDS) and path.endswith(".cpp"))
    known = set(re.findall(r'(?:add(?:_act|_)?\(\*?\w+,\s*|add_\()"([a-z-]+)"', words))
    return [
        Finding(path, line_of(text, match.start()), f"there is no command '{match.group(1)}'")
        for path, text in tree.files.items() if path.endswith((".md", ".yaml"))
        for match in _COMMAND.finditer(text)
        if match.group(1) not in known and "has no command" not in text[match.start():][:120]]


def scripts(tree):
    """A file that begins with #! may be executed."""
    return [
        Finding(path, 1, "begins with #! and is not executable")
        for path, text in tree.files.items()
        if text.startswith("#!") and not tree.modes.get(path, 0o755) & 0o100]


RULES = (include_direction, library_rooms, pure_core, banned_calls_in_pure_code, banned_calls,
         sleeps_in_tests, defaults_in_switches, heads, sizes, top_level, machine_paths, links,
         documented_commands, scripts)
