"""Each rule of rules.py finds what it is for, and leaves alone what is right."""
import unittest

import rules
from source import Tree, blanked, functions

HEAD = "// What for. Threading: one. Failure: none.\n#pragma once\n"
TOP = dict.fromkeys(["CMakeLists.txt", "README.md", "DEVELOPERS.md", "LICENSE", "daemon/x",
                     "plugins/x", "config/x", "tests/x", "systemd/x", "docs/x"], "")


def found(rule, files, **modes):
    return [finding.told() for finding in rule(Tree(files, **modes))]


class Blanking(unittest.TestCase):
    def test_comments_and_literals_go_and_places_stay(self):
        text = ('int a; // now()\nauto s = "now()"; /* now()\n now() */ char c = \'{\';\n'
                "int n = 1'000;\n")
        code = blanked(text)
        self.assertEqual(len(code), len(text))
        self.assertEqual(code.count("\n"), text.count("\n"))
        for gone in ("now", "{"):
            self.assertNotIn(gone, code)
        self.assertIn("1'000", code)

    def test_raw_strings_go_and_includes_stay(self):
        code = blanked('#include "base/time.hpp"\nauto s = R"x(std::thread ")")x"; int last;\n')
        self.assertIn("base/time.hpp", code)
        self.assertNotIn("thread", code)
        self.assertIn("int last", code)


class Functions(unittest.TestCase):
    def lengths(self, text):
        return {f.name: f.lines for f in functions(blanked(text))}

    def test_heads_initialisers_and_lambdas_count_in(self):
        text = ("namespace a {\nstruct B {\n  int x = 0;\n  B(int y)\n      : x{y} {\n"
                "    go();\n  }\n  int one() const { return 1; }\n};\n"
                "const std::array<int, 2> kTwo = {{1, 2}};\n"
                "auto C::walk(int n)\n    -> int {\n  auto f = [&] {\n    return n;\n  };\n"
                "  return f();\n}\n}\n")
        self.assertEqual(self.lengths(text), {"B": 4, "one": 1, "C::walk": 7})

    def test_a_test_is_named_by_both_its_names(self):
        self.assertEqual(self.lengths("TEST(Air, Drifts) {\n  a();\n}\n"), {"Air.Drifts": 3})


class IncludeDirection(unittest.TestCase):
    def told(self, path, include):
        return found(rules.include_direction, {path: f'#include "{include}"\n'})

    def test_arrows_back_are_found(self):
        for path, include in (
                ("daemon/base/a.cpp", "core/air/units.hpp"),
                ("daemon/core/climate/a.cpp", "ports/clock.hpp"),
                ("daemon/core/climate/a.cpp", "core/chamber/chamber.hpp"),
                ("daemon/core/air/a.cpp", "settings/settings.hpp"),
                ("daemon/ports/a.hpp", "shell/log/log.hpp"),
                ("daemon/settings/a.cpp", "shell/log/log.hpp"),
                ("daemon/settings/a.cpp", "ports/clock.hpp"),
                ("daemon/rehearsal/a.cpp", "shell/loop/board_clock.hpp"),
                ("daemon/shell/record/a.cpp", "shell/log/log.hpp"),
                ("daemon/shell/broker/a.cpp", "programs/cli/cli.hpp"),
                ("daemon/programs/cli/a.cpp", "programs/chamber/play.hpp"),
                ("plugins/simulated/a.cpp", "ports/drivers.hpp"),
                ("plugins/simulated/a.cpp", "core/climate/reason.hpp"),
                ("plugins/mqtt_relay/a.cpp", "program/program.hpp")):
            self.assertEqual(len(self.told(path, include)), 1, f"{path} -> {include}")

    def test_arrows_forward_are_not(self):
        for path, include in (
                ("daemon/core/chamber/a.cpp", "core/climate/reason.hpp"),
                ("daemon/core/air/a.cpp", "core/air/units.hpp"),
                ("daemon/shell/hosts/a.cpp", "sdk/protocol.hpp"),
                ("daemon/programs/a.cpp", "programs/cli/cli.hpp"),
                ("plugins/host/a.cpp", "core/output/output_clock.hpp")):
            self.assertEqual(self.told(path, include), [], f"{path} -> {include}")

    def test_a_room_nobody_knows_is_found(self):
        self.assertEqual(len(found(rules.include_direction, {"daemon/attic/a.cpp": ""})), 1)
        self.assertEqual(len(found(rules.include_direction, {"daemon/core/attic/a.cpp": ""})), 1)


class Libraries(unittest.TestCase):
    def told(self, path, name):
        return found(rules.library_rooms, {path: f"#include <{name}>\n"})

    def test_a_library_in_a_wrong_room_is_found(self):
        for path, name in (("daemon/core/air/a.cpp", "boost/asio/io_context.hpp"),
                           ("daemon/shell/warden/a.cpp", "sqlite3.h"),
                           ("daemon/settings/a.cpp", "spdlog/spdlog.h"),
                           ("daemon/shell/record/a.cpp", "mqtt/async_client.h"),
                           ("plugins/program/a.cpp", "MQTTAsync.h")):
            self.assertEqual(len(self.told(path, name)), 1, f"{path} <{name}>")
        self.assertEqual(self.told("daemon/shell/record/sqlite.cpp", "sqlite3.h"), [])

    def test_a_heavy_header_in_a_header_is_found(self):
        self.assertEqual(len(self.told("daemon/settings/a.hpp", "yaml-cpp/yaml.h")), 1)
        self.assertEqual(self.told("daemon/settings/a.cpp", "yaml-cpp/yaml.h"), [])


class Purity(unittest.TestCase):
    def test_threads_files_and_the_system_are_found(self):
        for name in ("thread", "fstream", "filesystem", "unistd.h", "sys/socket.h"):
            for path in ("daemon/core/air/a.hpp", "daemon/base/a.hpp"):
                told = found(rules.pure_core, {path: f"#include <{name}>\n"})
                self.assertEqual(len(told), 1, f"{path} <{name}>")

    def test_base_has_the_standard_library_only(self):
        told = found(rules.pure_core, {"daemon/base/a.cpp": "#include <fmt/core.h>\n"})
        self.assertEqual(len(told), 1)
        for text in ("#include <vector>\n", "#include <fmt/core.h>\n"):
            self.assertEqual(found(rules.pure_core, {"daemon/core/air/a.cpp": text}), [], text)

    def test_clocks_chance_and_files_called_are_found(self):
        for call in ("std::chrono::steady_clock::now()", "std::chrono::system_clock::now()",
                     "::clock_gettime(CLOCK_BOOTTIME, &t)", "time(nullptr)", "std::thread t(f)",
                     'fopen("a", "r")', "std::ofstream out", "std::rand()", "std::random_device d",
                     'getenv("A")', "std::cout << 1"):
            for folder in ("base", "core/air", "rehearsal"):
                told = found(rules.banned_calls_in_pure_code,
                             {f"daemon/{folder}/a.cpp": f"void f() {{ {call}; }}\n"})
                self.assertEqual(len(told), 1, f"{folder}: {call}")

    def test_words_and_the_shell_are_left_alone(self):
        for path, text in (("daemon/core/air/a.cpp", "// steady_clock::now()\n"),
                           ("daemon/core/air/a.cpp", "Instant fall_time(0); x.now();\n"),
                           ("daemon/shell/loop/a.cpp", "steady_clock::now();\n")):
            self.assertEqual(found(rules.banned_calls_in_pure_code, {path: text}), [], text)


class Calls(unittest.TestCase):
    def told(self, text):
        return found(rules.banned_calls, {"daemon/shell/log/a.cpp": text + "\n"})

    def test_what_is_wrong_everywhere_is_found(self):
        for call in ("system(word)", "std::system(word)", "::popen(a, b)", "strcpy(a, b)",
                     "sprintf(a, b)", "assert(a)", "co_spawn(l, f(), asio::detached)",
                     "using namespace std;"):
            self.assertEqual(len(self.told(call)), 1, call)

    def test_what_only_looks_like_it_is_not(self):
        for call in ("filesystem(a)", "snprintf(a, 1, b)", "static_assert(a)", "file.system(a)",
                     "using namespace std::chrono_literals;", "// assert(a)"):
            self.assertEqual(self.told(call), [], call)

    def test_a_sleep_in_a_test_is_found(self):
        for call in ("std::this_thread::sleep_for(1s)", "usleep(5)", "sleep (1)"):
            told = found(rules.sleeps_in_tests, {"tests/unit/a.cpp": f"void f() {{ {call}; }}\n"})
            self.assertEqual(len(told), 1, call)
        child = {"tests/unit/a.cpp": 'run({"sleep", "60"});'}
        self.assertEqual(found(rules.sleeps_in_tests, child), [])

    def test_a_default_is_found_where_the_set_is_closed(self):
        text = "switch (a) {\n  case A: return 1;\n  default: return 2;%s\n}\n"
        path = "daemon/core/air/a.cpp"
        self.assertEqual(len(found(rules.defaults_in_switches, {path: text % ""})), 1)
        said = text % "  // an open set: a number"
        self.assertEqual(found(rules.defaults_in_switches, {path: said}), [])
        self.assertEqual(found(rules.defaults_in_switches, {path: "A() = default;\n"}), [])


class Heads(unittest.TestCase):
    def test_each_missing_part_is_found(self):
        path = "daemon/core/air/a.hpp"
        self.assertEqual(found(rules.heads, {path: HEAD}), [])
        for part in ("Threading:", "Failure:"):
            self.assertEqual(len(found(rules.heads, {path: HEAD.replace(part, "")})), 1)
        self.assertEqual(len(found(rules.heads, {path: "#pragma once\n" + HEAD})), 1)


class Sizes(unittest.TestCase):
    LONG = "void f() {\n" + "  g();\n" * 69 + "}\n"

    def test_a_long_function_file_and_line_are_found(self):
        path = "daemon/core/air/a.cpp"
        self.assertEqual(len(found(rules.sizes, {path: self.LONG})), 1)
        self.assertEqual(len(found(rules.sizes, {path: "int a;\n" * 401})), 1)
        self.assertEqual(len(found(rules.sizes, {path: "//" + "x" * 99 + "\n"})), 1)
        self.assertEqual(found(rules.sizes, {path: "int a;\n" * 400 + ""}), [])
        self.assertEqual(found(rules.sizes, {path: self.LONG.replace("  g();\n", "", 1)}), [])

    def test_the_list_excuses_exactly_what_it_says(self):
        path = "daemon/core/air/a.cpp"
        self.assertEqual(found(rules.sizes, {path: self.LONG, rules.OVER: f"{path} f 71\n"}), [])
        for size in (70, 72):  # grown since, or shrunk since
            told = found(rules.sizes, {path: self.LONG, rules.OVER: f"{path} f {size}\n"})
            self.assertEqual(len(told), 1, size)

    def test_the_list_only_shrinks(self):
        told = found(rules.sizes, {rules.OVER: "daemon/core/air/gone.cpp f 90\n"})
        self.assertEqual(len(told), 1)


class Whole(unittest.TestCase):
    def test_more_or_less_at_the_top_is_found(self):
        self.assertEqual(found(rules.top_level, TOP | {".gitignore": ""}), [])
        self.assertEqual(len(found(rules.top_level, TOP | {"notes.txt": ""})), 1)
        self.assertEqual(len(found(rules.top_level, TOP | {"build/a.o": ""})), 1)
        self.assertEqual(len(found(rules.top_level, {k: "" for k in TOP if k != "LICENSE"})), 1)

    def test_a_path_of_one_machine_is_found(self):
        for path in ("/home" + "/ann/tub", "/root" + "/x", "/tmp" + "/b-core", "/work" + "/main",
                     "/work" + "/.x"):
            told = found(rules.machine_paths, {"docs/a.md": f"see {path}\n"})
            self.assertEqual(len(told), 1, path)
        for path in ("/etc/tubwarden", "build/work/x", "/tmp/tubwarden-test-x"):
            self.assertEqual(found(rules.machine_paths, {"docs/a.md": f"see {path}\n"}), [], path)

    def test_a_link_that_leads_nowhere_is_found(self):
        files = {"docs/a.md": "[b](b.md) [c](../README.md#top) [d](https://example.org)\n",
                 "docs/b.md": "", "README.md": "[docs](docs/)"}
        self.assertEqual(found(rules.links, files), [])
        self.assertEqual(len(found(rules.links, files | {"docs/b.md": "[z](z.md)"})), 1)

    def test_a_command_that_is_not_there_is_found(self):
        words = {rules.WORDS + ".cpp": 'add(app, "status", "x"); add(*batches, "show", "x");',
                 rules.WORDS + "_air.cpp": 'App* a =\n  add_("why", "x", "y");'}
        for text in ("`tubwarden status --watch`", "`tubwarden why tub-1`", "    tubwarden\n",
                     "the tubwarden daemon",
                     "$ tubwarden statsu\ntubwarden has no command 'statsu'"):
            told = found(rules.documented_commands, words | {"a.md": text})
            self.assertEqual(told, [], text)
        for text in ("`tubwarden dance`", "tubwarden --socket S dance\n", "$ tubwarden dance"):
            told = found(rules.documented_commands, words | {"a.md": text})
            self.assertEqual(len(told), 1, text)

    def test_a_script_that_cannot_be_started_is_found(self):
        files = {"tests/run": "#!/bin/bash\n"}
        self.assertEqual(len(found(rules.scripts, files, modes={"tests/run": 0o644})), 1)
        self.assertEqual(found(rules.scripts, files, modes={"tests/run": 0o755}), [])

    def test_every_rule_is_run(self):
        named = {name for name, value in vars(rules).items() if callable(value)
                 and getattr(value, "__module__", "") == "rules" and value.__doc__
                 and value.__code__.co_varnames[:1] == ("tree",) and not name.startswith("_")}
        self.assertEqual(named - {rule.__name__ for rule in rules.RULES}, {"measured"})


if __name__ == "__main__":
    unittest.main()
