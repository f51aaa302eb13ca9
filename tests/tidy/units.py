"""The files of systemd/ before systemd's own tools."""
import os
import re
import shutil
import subprocess
import tempfile
import unittest
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent.parent / "systemd"


def ran(*words):
    return subprocess.run(words, capture_output=True, text=True, check=False)


def verified(unit, text):
    """What systemd-analyze says of a unit whose programs all exist."""
    with tempfile.TemporaryDirectory(prefix="tubwarden-") as folder:
        path = Path(folder) / unit
        path.write_text(re.sub(r"^(Exec\w+=[-+!@:]*)\S+", r"\1/bin/true", text, flags=re.M),
                        encoding="utf-8")
        result = ran("systemd-analyze", "verify", "--man=no", "--recursive-errors=no", str(path))
        return result.returncode, (result.stdout + result.stderr).strip()


def exposed(unit, text, threshold):
    """systemd-analyze security of a unit; it fails above the threshold, the score x 10."""
    with tempfile.TemporaryDirectory(prefix="tubwarden-") as folder:
        path = Path(folder) / unit
        path.write_text(text, encoding="utf-8")
        return ran("systemd-analyze", "security", "--offline=yes", f"--threshold={threshold}",
                   str(path))


def lines_of(name):
    """A file's lines of words, its comments left out."""
    lines = (FOLDER / name).read_text(encoding="utf-8").split("\n")
    return [line.split() for line in lines if line.strip() and not line.startswith("#")]


@unittest.skipUnless(shutil.which("systemd-analyze"), "no systemd-analyze here")
class Unit(unittest.TestCase):
    NAME = "tubwarden.service"

    def text(self):
        return (FOLDER / self.NAME).read_text(encoding="utf-8")

    def test_verifies_without_a_word(self):
        self.assertEqual(verified(self.NAME, self.text()), (0, ""))

    def test_an_unknown_key_would_be_told(self):
        wrong = self.text().replace("[Service]\n", "[Service]\nRestartEver=always\n")
        self.assertIn("RestartEver", verified(self.NAME, wrong)[1])

    def test_is_restarted_without_limit_and_watched(self):
        for line in ("Type=notify", "Restart=always", "StartLimitIntervalSec=0", "WatchdogSec=30",
                     "ExecReload=/bin/kill -HUP $MAINPID", "StateDirectory=tubwarden"):
            self.assertIn(f"\n{line}\n", self.text())

    def test_what_was_in_use_is_made_safe_behind_the_end_of_all(self):
        self.assertIn("\nExecStopPost=/usr/bin/tubwarden-plugin-host --make-safe "
                      "%t/tubwarden/outputs.list\n", self.text())
        self.assertIn("\nRuntimeDirectory=tubwarden\n", self.text())

    def test_is_exposed_little(self):
        # 100 is unprotected.
        result = exposed(self.NAME, self.text(), 15)
        self.assertEqual(result.returncode, 0, result.stdout[-400:] + result.stderr)
        level = re.search(r"exposure level for \S+: ([0-9.]+ \w+)", result.stdout)
        self.assertIsNotNone(level, result.stdout[-400:])
        print(f"exposure: {self.NAME}: {level.group(1)} (of 10; systemd-analyze security)")


@unittest.skipUnless(shutil.which("systemd-analyze"), "no systemd-analyze here")
class SensorUnit(unittest.TestCase):
    NAME = "tubwarden-iio-sensor@.service"

    def test_verifies_and_is_exposed_little(self):
        text = (FOLDER / self.NAME).read_text(encoding="utf-8")
        self.assertEqual(verified(self.NAME, text), (0, ""))
        result = exposed(self.NAME, text, 15)
        self.assertEqual(result.returncode, 0, result.stdout[-400:] + result.stderr)
        for line in ("Restart=always", "DynamicUser=yes", "StartLimitIntervalSec=0"):
            self.assertIn(f"\n{line}\n", text)


@unittest.skipUnless(shutil.which("systemd-analyze"), "no systemd-analyze here")
class DropIns(unittest.TestCase):
    def test_open_what_they_name_and_little_more(self):
        unit = (FOLDER / "tubwarden.service").read_text(encoding="utf-8")
        names = sorted(path.name for path in (FOLDER / "drop-ins").iterdir())
        self.assertEqual(names, ["gpio.conf", "pwm.conf", "serial.conf"])
        for name in names:
            lines = lines_of(f"drop-ins/{name}")
            self.assertEqual(lines[0], ["[Service]"])
            added = "".join(" ".join(line) + "\n" for line in lines[1:])
            joined = unit.replace("[Install]", added + "[Install]")
            self.assertEqual(verified("tubwarden.service", joined), (0, ""), name)
            result = exposed("tubwarden.service", joined, 17)
            self.assertEqual(result.returncode, 0, name + result.stdout[-400:] + result.stderr)
            if "PrivateDevices=no" in added:
                self.assertIn("DevicePolicy=closed\n", added, name)


class User(unittest.TestCase):
    def test_the_unit_runs_as_the_user_that_sysusers_makes(self):
        made = {words[1] for words in lines_of("tubwarden.sysusers") if words[0] == "u"}
        unit = (FOLDER / "tubwarden.service").read_text(encoding="utf-8")
        self.assertEqual(made, set(re.findall(r"^User=(\S+)", unit, re.M)))

    @unittest.skipUnless(shutil.which("systemd-sysusers") and os.geteuid() == 0,
                         "systemd-sysusers needs root")
    def test_sysusers_and_tmpfiles_obey_their_files(self):
        with tempfile.TemporaryDirectory(prefix="tubwarden-") as root:
            (Path(root) / "etc").mkdir()
            users = ran("systemd-sysusers", f"--root={root}",
                        str(FOLDER / "tubwarden.sysusers"))
            self.assertEqual((users.returncode, "warn" in users.stderr.lower()), (0, False),
                             users.stderr)
            files = ran("systemd-tmpfiles", "--create", f"--root={root}",
                        str(FOLDER / "tubwarden.tmpfiles"))
            self.assertEqual(files.returncode, 0, files.stderr)
            for kind, path, mode, *_ in lines_of("tubwarden.tmpfiles"):
                self.assertIn(kind, ("d", "z"))
                if kind == "d":
                    self.assertEqual((Path(root) / path[1:]).stat().st_mode & 0o7777, int(mode, 8))
