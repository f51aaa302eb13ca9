"""sheet.py WORK BIN PLUGINS [--seconds N]: what open pages cost a daemon with four tubs whose
sensors speak each second, and what requests that are refused cost it.

Each figure is a line `name value unit`: the CPU of the daemon's process (its schedstat) as a share
of one core, without pages, with 50 of them, and while slow and broken clients try."""
import argparse
import os
import selectors
import socket
import subprocess
import sys
import time

TUBS, PAGES = 4, 50
SITE = """site: bench
broker: {{url: "mqtt://127.0.0.1:{broker}"}}
record: {{folder: {work}/record}}
control: {{socket: {work}/control.sock}}
sheet: {{listen: "127.0.0.1:{sheet}"}}
room: {{temperature: 15 C, humidity: 50 %}}
"""
PROFILE = """profile: button
phases:
  - phase: fruiting
    air_temperature: {keep: [15 C, 18 C]}
    humidity: {keep: [85 %, 90 %]}
    co2: {keep_below: 1000 ppm}
  - phase: empty
"""
TUB = """tub: tub-{n}
batch: B-0{n}
profile: button
phase: fruiting
substrate: 5 kg
air:
  net_volume: 40 L
  sensors:
    - id: air
      topic: bench/tub-{n}
      humidity: {{at: /rh}}
      temperature: {{at: /t, place: air}}
      co2: {{at: /co2}}
      stale_after: 2m
  actuators:
    - {{id: mister, effect: humidify, rate: 40 g/h, driver: simulated, wiring: {{file: {work}/out}},
       safe: rest}}
"""
SENSOR = """i=0
while sleep 1; do
  i=$((i + 1))
  echo "{\\"rh\\":8$((i % 9)).$((i % 7)),\\"t\\":16.$((i % 8)),\\"co2\\":8$((i % 9))0}"
done | mosquitto_pub -p PORT -t bench/tub-N -l"""


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def cpu_s(pid):
    """Of all its threads."""
    tasks = "/proc/%d/task" % pid
    return sum(int(open("%s/%s/schedstat" % (tasks, t)).read().split()[0])
               for t in os.listdir(tasks)) / 1e9


def wait_for(port, limit=20):
    end = time.monotonic() + limit
    while time.monotonic() < end:
        try:
            return socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.02)
    raise SystemExit("nobody listens at %d" % port)


class Pages:
    """Connections that take what comes, and count it."""

    def __init__(self, port, number, request):
        self.selector, self.taken, self.links = selectors.DefaultSelector(), 0, []
        for _ in range(number):
            link = socket.create_connection(("127.0.0.1", port))
            link.sendall(request)
            link.setblocking(False)
            self.selector.register(link, selectors.EVENT_READ)
            self.links.append(link)

    def read_until(self, end):
        while (left := end - time.monotonic()) > 0:
            for key, _ in self.selector.select(left):
                if data := key.fileobj.recv(65536):
                    self.taken += len(data)
                else:
                    self.selector.unregister(key.fileobj)

    def close(self):
        for link in self.links:
            link.close()


def measured(daemon, seconds, work):
    begun, at = cpu_s(daemon.pid), time.monotonic()
    work(at + seconds)
    return 100 * (cpu_s(daemon.pid) - begun) / (time.monotonic() - at)


def trouble(port):
    """Slow headers, broken ones, large ones: as fast as they are refused."""
    bad = (b"GET / HT", b"\x16\x03\x01nonsense\r\n\r\n", b"GET / HTTP/1.1\r\nA: " + b"a" * 9000)

    def work(end):
        while time.monotonic() < end:
            links = [socket.create_connection(("127.0.0.1", port)) for _ in range(30)]
            for i, link in enumerate(links):
                link.sendall(bad[i % 3])
            time.sleep(0.2)
            for link in links:
                link.close()
    return work


def main():
    words = argparse.ArgumentParser()
    for name in ("work", "bin", "plugins"):
        words.add_argument(name)
    words.add_argument("--seconds", type=int, default=20)
    given = words.parse_args()
    config, broker_port, port = given.work + "/config", free_port(), free_port()
    for folder in ("tubs", "profiles"):
        os.makedirs("%s/%s" % (config, folder))
    open(config + "/tubwarden.yaml", "w").write(
        SITE.format(broker=broker_port, sheet=port, work=given.work))
    open(config + "/profiles/button.yaml", "w").write(PROFILE)
    for n in range(1, TUBS + 1):
        open("%s/tubs/tub-%d.yaml" % (config, n), "w").write(TUB.format(n=n, work=given.work))
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    processes = [subprocess.Popen(["mosquitto", "-p", str(broker_port)], **quiet)]
    try:
        wait_for(broker_port)
        daemon = subprocess.Popen([given.bin + "/tubwardend", "--config", config, "--plugins",
                                   given.plugins], stderr=open(given.work + "/log", "w"))
        processes.append(daemon)
        wait_for(port)
        for n in range(1, TUBS + 1):
            subprocess.run([given.bin + "/tubwarden", "--socket", given.work + "/control.sock",
                            "phase", "tub-%d" % n, "fruiting"], check=True, **quiet)
            sensor = SENSOR.replace("PORT", str(broker_port)).replace("-N -l", "-%d -l" % n)
            processes.append(
                subprocess.Popen(["sh", "-c", sensor], start_new_session=True, **quiet))
        nobody = measured(daemon, given.seconds, lambda end: time.sleep(end - time.monotonic()))
        ask = b"GET /api/live HTTP/1.1\r\nHost: localhost\r\n\r\n"
        pages = Pages(port, PAGES, ask)
        pages.read_until(time.monotonic() + 3)
        pages.taken = 0
        open_ones = measured(daemon, given.seconds, pages.read_until)
        pages.close()
        refused = measured(daemon, given.seconds, trouble(port))
    finally:
        for process in reversed(processes):
            if process.args[0] == "sh":
                os.killpg(process.pid, 15)
            process.terminate()
            process.wait(20)
    print("# %d tubs, a reading a second each; the daemon, %d s each" % (TUBS, given.seconds))
    print("sheet_cpu_pages_%d %.2f %% of a core" % (PAGES, open_ones - nobody))
    print("sheet_cpu_floor %.2f %% of a core" % nobody)
    print("sheet_cpu_ratio %.2f x" % (open_ones / nobody))
    print("sheet_bytes_a_page %.0f bytes/s" % (pages.taken / PAGES / given.seconds))
    print("sheet_cpu_trouble %.2f %% of a core" % (refused - nobody))


if __name__ == "__main__":
    sys.exit(main())
