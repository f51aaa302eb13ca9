#!/usr/bin/env python3
"""tests/cross/gpio.py FOLDER: the plugin host and gpio_line on a real kernel's GPIO chip.

FOLDER is what tests/cross/build made. The board is QEMU's, its kernel Debian's; pins are looked at
from outside the guest. Ends with 0 when all passed.
"""
import json
import re
import sys
import time
import unittest

from guest import WORD_S, Guest

FAN, MAT, TWICE = 1, 2, 4
LEASE_S = 1.0


class Board(unittest.TestCase):
    cross = None

    @classmethod
    def setUpClass(cls):
        cls.guest = Guest(cls.cross)

    @classmethod
    def tearDownClass(cls):
        cls.guest.stop()

    def setUp(self):
        self.end_all()
        self.guest.run(": >/run/said; supervisor /run/orders /bin/tubwarden-plugin-host /plugins "
                       "'{}' /run/outputs.list >/run/said 2>&1 & boss=$!")

    def end_all(self):
        """Every process of ours gone; what a pin does then is left to the next one."""
        self.guest.run("killall -q -9 supervisor tubwarden-plugin-host; "
                       "while pidof supervisor tubwarden-plugin-host; do usleep 10000; done")

    # --- words to the supervisor ----------------------------------------------------------------

    def tell(self, order):
        quoted = order.replace("'", "'\\''")
        self.assertEqual(self.guest.run(f"echo '{quoted}' >/run/orders")[0], 0)

    def output(self, actuator, wiring, safe=0, lease_s=LEASE_S, own=0):
        self.tell(f"output tub {actuator} gpio_line {safe} {int(lease_s * 1000)} {own} "
                  + json.dumps(wiring))

    def until_said(self, pattern):
        until = time.monotonic() + WORD_S
        while True:
            said = self.guest.run("cat /run/said")[1]
            if re.search(pattern, said):
                return
            self.assertLess(time.monotonic(), until, f"no '{pattern}' in:\n{said}")

    def begin(self, wiring, safe=0, lease_s=60.0):
        """One output, ready."""
        self.output("fan", wiring, safe, lease_s)
        self.tell("want")
        self.until_said(r"report tub/fan ready")

    def host(self):
        return int(self.guest.run("pidof tubwarden-plugin-host")[1].split()[0])

    # --- cases ----------------------------------------------------------------------------------

    def test_passes_the_conformance_kit(self):
        self.guest.run("""echo '{"wiring":{"line":"FAN1"}}' >/run/options""")
        status, said = self.guest.run(
            "tubwarden-plugin-host --try /plugins/gpio_line.so /run/options")
        self.assertEqual(status, 0, said)
        self.assertIn("gpio_line.so: 9 passed, 0 failed, 2 not applicable", said)

    def test_takes_the_line_safe_and_switches_it(self):
        self.begin({"line": "FAN1"})
        self.assertTrue(self.guest.is_output(FAN))
        self.assertEqual(self.guest.level(FAN), 0)
        self.tell("command tub fan 1000 0")
        self.guest.until_level(FAN, 1)
        self.tell("command tub fan 0 0")
        self.guest.until_level(FAN, 0)
        self.tell("command tub fan 1000 0")
        self.guest.until_level(FAN, 1)
        self.tell("stop")
        self.until_said("stopped")
        self.assertEqual(self.guest.level(FAN), 0)

    def test_stands_safe_from_its_first_moment(self):
        for wiring, safe, pin, level in (
                ({"line": "MAT1", "active_low": True}, 0, MAT, 1),
                ({"chip": "9030000.pl061", "offset": 6}, 1000, 6, 1),
                ({"chip": "gpiochip0", "offset": 7, "active_low": True}, 1000, 7, 0)):
            with self.subTest(wiring=wiring):
                self.setUp()
                before = len(self.guest.changes(pin))
                self.begin(wiring, safe)
                self.assertTrue(self.guest.is_output(pin))
                self.assertEqual(self.guest.level(pin), level)
                # From an input that is pulled low: one change or none, and no pulse.
                self.assertEqual([at for _, at in self.guest.changes(pin)[before:]],
                                 [1] if level else [])

    def test_ends_a_timed_run_by_itself(self):
        self.begin({"line": "FAN1"})
        before = len(self.guest.changes(FAN))
        self.tell("command tub fan 1000 500")
        self.guest.until_level(FAN, 1)
        self.guest.until_level(FAN, 0)
        (rose, up), (fell, down) = self.guest.changes(FAN)[before:]
        self.assertEqual((up, down), (1, 0))
        print(f"a run of 500 ms lasted {1000 * (fell - rose):.1f} ms on the pin, under emulation")
        self.assertGreaterEqual(fell - rose, 0.49)
        self.assertLess(fell - rose, 1.5)

    def test_falls_when_the_daemon_stands_still(self):
        self.begin({"line": "FAN1"}, lease_s=LEASE_S)
        self.tell("command tub fan 1000 0")
        self.guest.until_level(FAN, 1)
        self.guest.run("kill -STOP $boss")
        self.guest.until_level(FAN, 0)
        self.guest.run("kill -CONT $boss")

    def test_falls_when_the_daemon_is_killed(self):
        self.begin({"line": "FAN1"})
        self.tell("command tub fan 1000 0")
        self.guest.until_level(FAN, 1)
        self.guest.run("kill -9 $boss")
        self.guest.until_level(FAN, 0)

    def test_falls_by_the_next_host_when_one_is_killed(self):
        self.begin({"line": "FAN1"})
        self.tell("command tub fan 1000 0")
        self.guest.until_level(FAN, 1)
        old, before = self.host(), len(self.guest.changes(FAN))
        killed = time.time()
        self.guest.run(f"kill -9 {old}")
        self.guest.until_level(FAN, 0)
        (fell, level), = self.guest.changes(FAN)[before:]
        self.assertEqual(level, 0)
        print(f"a host was killed: its pin was safe {1000 * (fell - killed):.0f} ms later")
        self.assertNotEqual(self.host(), old)

    def test_stays_driven_when_all_are_killed_and_is_made_safe_by_the_list(self):
        self.begin({"line": "FAN1"})
        self.tell("command tub fan 1000 0")
        self.guest.until_level(FAN, 1)
        before = len(self.guest.changes(FAN))
        self.guest.run("killall -STOP supervisor tubwarden-plugin-host")
        self.end_all()
        self.assertEqual((self.guest.is_output(FAN), self.guest.level(FAN)), (True, 1))
        self.assertEqual(self.guest.changes(FAN)[before:], [])
        print("all were killed: the kernel freed the line, and the pin stayed driven as it was")
        status, said = self.guest.run("tubwarden-plugin-host --make-safe /run/outputs.list")
        self.assertEqual((status, self.guest.level(FAN)), (0, 0), said)

    def test_names_who_has_the_line(self):
        self.begin({"line": "FAN1"})
        self.output("fan-2", {"chip": "9030000.pl061", "offset": FAN}, own=1)
        self.tell("want")
        self.until_said(r"FAN1 \(gpiochip0, line 1\): is in use by 'tubwarden tub/fan'")
        self.assertEqual(self.guest.level(FAN), 0)

    def test_refuses_a_name_that_is_there_twice(self):
        self.output("fan", {"line": "TWICE"})
        self.tell("want")
        self.until_said(r"more than once \(gpiochip0, line 4; gpiochip0, line 5\)")
        self.assertFalse(self.guest.is_output(TWICE))

    def test_drives_an_open_drain_low_only(self):
        self.begin({"line": "MAT1", "drive": "open_drain"})
        self.assertEqual((self.guest.is_output(MAT), self.guest.level(MAT)), (True, 0))
        self.tell("command tub fan 1000 0")
        until = time.monotonic() + WORD_S
        while self.guest.is_output(MAT):  # let go
            self.assertLess(time.monotonic(), until)
            time.sleep(0.005)


if __name__ == "__main__":
    Board.cross = sys.argv.pop()
    unittest.main(verbosity=2)
