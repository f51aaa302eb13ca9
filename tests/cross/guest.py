"""A small arm64 board under emulation: Debian's kernel, busybox, and what is put beside it.

Its GPIO chip is the PL061 of QEMU's `virt` machine. The chip is looked at from outside the guest:
by QEMU's monitor, and by its trace, which notes each change of a pin. Lines are given names by the
device tree, as a real board's are.
"""
import queue
import re
import shutil
import socket
import stat
import subprocess
import tempfile
import threading
import time
from pathlib import Path

CHIP = 0x09030000  # PL061 of the virt machine
DATA, DIRECTION = CHIP + 0x3FC, CHIP + 0x400  # ARM DDI 0190B, table 3-1
NAMES = ["", "FAN1", "MAT1", "", "TWICE", "TWICE", "", ""]
BOOT_S, WORD_S = 120, 60

INIT = """#!/bin/busybox sh
/bin/busybox --install -s /bin
mkdir -p /proc /sys /dev /tmp /run
mount -t proc none /proc && mount -t sysfs none /sys && mount -t devtmpfs none /dev
stty -echo
mkfifo /run/orders
echo 'guest ready'
while read -r line; do
  eval "$line"
  echo "done $?"
done
poweroff -f
"""


def archive(path, files):
    """A cpio of the new form with {name: (mode, bytes)}, all of root's."""
    def entry(name, mode, data, number):
        head = [number, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(name) + 1, 0]
        text = b"070701" + b"".join(b"%08x" % field for field in head) + name.encode() + b"\0"
        return pad(text) + pad(data)

    def pad(data):
        return data + b"\0" * (-len(data) % 4)

    folders = {str(p) for name in files for p in Path(name).parents if str(p) != "."}
    with open(path, "wb") as out:
        for number, folder in enumerate(sorted(folders), 1):
            out.write(entry(folder, stat.S_IFDIR | 0o755, b"", number))
        for number, (name, (mode, data)) in enumerate(files.items(), 1000):
            out.write(entry(name, stat.S_IFREG | mode, data, number))
        out.write(entry("TRAILER!!!", 0, b"", 0))


def libraries(program, root, found=None):
    """The shared libraries of a program, by what its head names, from the unpacked packages."""
    found = {} if found is None else found
    told = subprocess.run(["aarch64-linux-gnu-readelf", "-dl", str(program)], capture_output=True,
                          text=True, check=True).stdout
    names = re.findall(r"\(NEEDED\).*\[(.+?)\]", told) + ["ld-linux-aarch64.so.1"]
    for name in names:
        if name in found:
            continue
        for folder in ("lib/aarch64-linux-gnu", "usr/lib/aarch64-linux-gnu"):
            path = Path(root) / folder / name
            if path.exists():
                found[name] = path.resolve()
                libraries(found[name], root, found)
                break
        else:
            raise RuntimeError(f"{program} needs {name}, which no package has")
    return found


class Guest:
    def __init__(self, cross):
        self.cross = Path(cross)
        self.folder = Path(tempfile.mkdtemp(prefix="tubwarden-"))
        self.lines = queue.Queue()
        self.log = []
        self.started = time.monotonic()
        self._make_files()
        self.qemu = subprocess.Popen(
            ["qemu-system-aarch64", "-M", "virt", "-cpu", "cortex-a57", "-m", "256", "-display",
             "none", "-nodefaults", "-no-reboot", "-serial", "stdio",
             "-monitor", f"unix:{self.folder}/monitor,server=on,wait=off",
             "-kernel", str(self.cross / "kernel"), "-initrd", f"{self.folder}/initrd",
             "-dtb", f"{self.folder}/board.dtb", "-append", "console=ttyAMA0 quiet panic=-1",
             "-trace", "enable=pl061_set_output", "-msg", "timestamp=on",
             "-D", f"{self.folder}/trace"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        threading.Thread(target=self._listen, daemon=True).start()
        self.wait_for(r"guest ready", BOOT_S)
        self.monitor = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.monitor.settimeout(WORD_S)
        self.monitor.connect(f"{self.folder}/monitor")
        self._prompt()

    def _make_files(self):
        root, build = self.cross / "root", self.cross / "build"
        programs = {
            "bin/tubwarden-plugin-host": build / "bin/tubwarden-plugin-host",
            "bin/supervisor": build / "tests/hosts_supervisor",
            "plugins/gpio_line.so": build / "plugins/gpio_line.so",
        }
        needed = {}
        for program in programs.values():
            libraries(program, root, needed)
        files = {"init": (0o755, INIT.encode()),
                 "bin/busybox": (0o755, (root / "bin/busybox").read_bytes())}
        for name, path in programs.items():
            subprocess.run(["aarch64-linux-gnu-strip", "-o", str(self.folder / "stripped"),
                            str(path)], check=True)
            files[name] = (0o755, (self.folder / "stripped").read_bytes())
        for name, path in needed.items():
            files[f"lib/{name}"] = (0o755, path.read_bytes())
        archive(self.folder / "initrd", files)
        board = self.folder / "board.dtb"
        subprocess.run(["qemu-system-aarch64", "-M", f"virt,dumpdtb={board}", "-cpu", "cortex-a57",
                        "-m", "256", "-display", "none", "-nodefaults", "-serial", "null"],
                       check=True, capture_output=True)
        subprocess.run(["fdtput", "-t", "s", str(board), "/pl061@9030000", "gpio-line-names",
                        *NAMES], check=True)

    def _listen(self):
        for line in self.qemu.stdout:
            text = line.decode(errors="replace").strip()
            self.log.append(text)
            self.lines.put(text)
        self.lines.put(None)

    def wait_for(self, pattern, limit_s=WORD_S):
        """The next line of the console that matches; what is passed over is kept in log."""
        until = time.monotonic() + limit_s
        while True:
            try:
                line = self.lines.get(timeout=max(until - time.monotonic(), 0.01))
            except queue.Empty:
                line = None
            if line is None:
                raise RuntimeError(f"no '{pattern}' came:\n" + "\n".join(self.log[-40:]))
            if re.search(pattern, line):
                return line

    def run(self, command, limit_s=WORD_S):
        """Runs a line of shell in the guest: its exit code and what it printed."""
        begin = len(self.log)
        self.qemu.stdin.write(command.encode() + b"\n")
        self.qemu.stdin.flush()
        status = int(self.wait_for(r"^done \d+$", limit_s).split()[1])
        return status, "\n".join(self.log[begin:-1])

    def _prompt(self):
        said = b""
        while not said.rstrip().endswith(b"(qemu)"):
            more = self.monitor.recv(4096)
            if not more:
                raise RuntimeError("the monitor is gone")
            said += more
        return said.decode()

    def _byte(self, address):
        self.monitor.sendall(f"xp /1bx {address:#x}\n".encode())
        return int(re.search(r": (0x[0-9a-f]+)", self._prompt()).group(1), 16)

    def level(self, line):
        """Of the pin now, from outside."""
        return self._byte(DATA) >> line & 1

    def is_output(self, line):
        return self._byte(DIRECTION) >> line & 1 == 1

    def until_level(self, line, level, limit_s=WORD_S):
        until = time.monotonic() + limit_s
        while self.level(line) != level:
            if time.monotonic() > until:
                raise RuntimeError(f"line {line} did not become {level}:\n" +
                                   "\n".join(self.log[-40:]))
            time.sleep(0.005)

    def changes(self, line):
        """Every change of the pin that the chip has made: [(seconds, level)], by the trace."""
        found = []
        for text in (self.folder / "trace").read_text().splitlines():
            match = re.search(r"(\d+)\.(\d+):pl061_set_output .*?(\d+) to (\d)", text)
            if match and int(match.group(3)) == line:
                found.append((int(match.group(1)) + int(match.group(2)) / 1e6,
                              int(match.group(4))))
        return found

    def stop(self):
        self.qemu.kill()
        self.qemu.wait()
        if hasattr(self, "monitor"):
            self.monitor.close()
        shutil.rmtree(self.folder)
