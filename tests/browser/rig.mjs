// A whole Tubwarden with its sheet, on real parts: a private mosquitto, tubwardend, the command
// line, an ear on the broker, and Debian's Chromium. A test file has one rig, and ends it. Fails
// by throwing, with the daemon's log.
import { execFile, spawn } from "node:child_process";
import { mkdtempSync, mkdirSync, readFileSync, rmSync, writeFileSync, openSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { promisify } from "node:util";
import { createRequire } from "node:module";

const run = promisify(execFile);
export const BIN = process.env.TUBWARDEN_BIN_DIR;
const PLUGINS = process.env.TUBWARDEN_PLUGIN_DIR;
const MODULES = createRequire(
  resolve(process.env.TUBWARDEN_NODE_MODULES ?? ".", "node_modules", "none.js"),
);
const puppeteer = MODULES("puppeteer-core");
export const AXE = readFileSync(MODULES.resolve("axe-core/axe.min.js"), "utf8");

/** Waits for a sign: looks each 20 ms until `sign` answers something. */
export async function until(sign, what, limit_ms = 15000) {
  const end = Date.now() + limit_ms;
  for (;;) {
    const found = await sign();
    if (found) return found;
    if (Date.now() > end) throw new Error(`not in ${limit_ms} ms: ${what}`);
    await pause(20);
  }
}

export function freePort() {
  return new Promise((answer, reject) => {
    const server = createServer()
      .on("error", reject)
      .listen(0, "127.0.0.1", () => {
        const { port } = server.address();
        server.close(() => answer(port));
      });
  });
}

const PROFILE = `profile: button
phases:
  - phase: casing
    humidity: {keep: [90 %, 96 %]}
  - phase: fruiting
    humidity: {keep: [85 %, 90 %], warn: {outside: [70 %, 97 %], on_delay: 1s}}
    co2: {keep_below: 1000 ppm}
    settle: {temperature: 1s, other: 1s}
  - phase: empty
`;

const tubFile = (id, batch) => `tub: ${id}
batch: ${batch}
profile: button
phase: fruiting
substrate: 5 kg
air:
  net_volume: 40 L
  control: hysteresis
  sensors:
    - id: air
      topic: shed/${id}/air
      humidity: {at: /rh}
      temperature: {at: /t, place: air}
      co2: {at: /co2}
      stale_after: 10m
  actuators:
    - id: mister
      effect: humidify
      rate: 40 g/h
      driver: mqtt_relay
      wiring: {topic: shed/${id}/mister, run: "1", rest: "0"}
      safe: rest
      lease: 3s
      falls_by_itself_after: never
      limits: {shortest_run: 1s, shortest_rest: 200ms, longest_run: 60s, starts_per_hour: 60}
`;

export class Rig {
  /**
   * `tokens`: the sheet asks for tokens; `tubs`: how many; `fill(folder)`: before the daemon
   * starts.
   */
  static async start({ tokens = false, tubs = ["tub-1", "tub-2"], fill = null } = {}) {
    const rig = new Rig();
    try {
      await rig.begin(tokens, tubs, fill);
      return rig;
    } catch (error) {
      await rig.end();
      throw error;
    }
  }

  constructor() {
    this.folder = mkdtempSync(join(tmpdir(), "tubwarden-browser-"));
    this.running = [];
    this.notes = "";
  }

  child(name, words, options = {}) {
    const log = openSync(join(this.folder, name + ".log"), "a");
    // Whatever ends this process ends the child, too.
    const child = spawn("setpriv", ["--pdeathsig", "TERM", ...words], {
      stdio: ["ignore", options.pipe ? "pipe" : log, log],
    });
    child.gone = new Promise((answer) => child.once("exit", answer));
    this.running.push(child);
    return child;
  }

  log(name = "tubwardend") {
    try {
      return readFileSync(join(this.folder, name + ".log"), "utf8");
    } catch {
      return "";
    }
  }

  async begin(tokens, tubs, fill) {
    this.port = await freePort();
    this.sheetPort = await freePort();
    this.socket = join(this.folder, "control.sock");
    this.tokensFile = join(this.folder, "tokens");
    mkdirSync(join(this.folder, "config/profiles"), { recursive: true });
    mkdirSync(join(this.folder, "config/tubs"));
    mkdirSync(join(this.folder, "record"));
    writeFileSync(
      join(this.folder, "mosquitto.conf"),
      `listener ${this.port} 127.0.0.1\nallow_anonymous true\npersistence false\n` +
        "set_tcp_nodelay true\n",
    );
    writeFileSync(
      join(this.folder, "config/tubwarden.yaml"),
      `site: shed
broker: {url: "mqtt://127.0.0.1:${this.port}"}
record: {folder: "${this.folder}/record"}
control: {socket: "${this.socket}"}
sheet: {listen: "127.0.0.1:${this.sheetPort}"${tokens ? `, tokens_file: "${this.tokensFile}"` : ""}}
room: {temperature: 15 C, humidity: 50 %}
channels:
  - {id: notes, plugin: mqtt_note, wiring: {topic: shed/notes, as: text}}
`,
    );
    writeFileSync(join(this.folder, "config/profiles/button.yaml"), PROFILE);
    tubs.forEach((id, i) =>
      writeFileSync(join(this.folder, `config/tubs/${id}.yaml`), tubFile(id, `B-0${i + 1}`)),
    );
    await fill?.(join(this.folder, "record"));
    this.child("mosquitto", ["mosquitto", "-v", "-c", join(this.folder, "mosquitto.conf")]);
    await until(() => / running\n/.test(this.log("mosquitto")), "mosquitto");
    const ear = this.child("ear", ["mosquitto_sub", "-p", String(this.port), "-t", "shed/notes"], {
      pipe: true,
    });
    ear.stdout.on("data", (text) => {
      this.notes += text;
    });
    await this.startDaemon();
    for (const id of tubs) await this.cli("phase", id, "fruiting");
    this.url = `http://127.0.0.1:${this.sheetPort}/`;
  }

  /** Answers when the daemon is up, its broker, and its outputs. */
  async startDaemon() {
    this.daemon = this.child("tubwardend", [
      join(BIN, "tubwardend"),
      "--config",
      join(this.folder, "config"),
      "--plugins",
      PLUGINS,
    ]);
    await until(
      async () => {
        const s = await this.status().catch(() => null);
        return (
          s?.broker.up && s.chambers.every((c) => c.actuators.every((a) => a.health === "ready"))
        );
      },
      "the daemon",
      20000,
    ).catch((error) => {
      throw new Error(`${error.message}\n${this.log()}`);
    });
  }

  async stopDaemon() {
    this.daemon.kill("SIGTERM");
    await this.daemon.gone;
  }

  /** The command line's answer; throws with its words where it fails. */
  async cli(...words) {
    const { stdout } = await run(join(BIN, "tubwarden"), ["--socket", this.socket, ...words]);
    return stdout;
  }

  async ask(...words) {
    return JSON.parse(await this.cli(...words, "--json"));
  }

  status() {
    return this.ask("status");
  }

  /** A token of the sheet, made by the command line. */
  async token(name, may) {
    const words = ["sheet", "token", "add", name, "--may", may, "--file", this.tokensFile];
    return (await this.ask(...words)).token;
  }

  async timeline(batch) {
    return (await this.ask("batch", "show", batch)).rows;
  }

  publish(topic, payload) {
    return run("mosquitto_pub", ["-p", String(this.port), "-q", "1", "-t", topic, "-m", payload]);
  }

  /** A tub's air, taken by the daemon when this returns. */
  async air(tub, reading) {
    await this.publish(`shed/${tub}/air`, JSON.stringify(reading));
    await until(
      async () =>
        (await this.status()).chambers
          .find((c) => c.id === tub)
          .air.some((q) => q.quantity === "humidity" && q.value === reading.rh),
      `the reading ${reading.rh} of ${tub}`,
    );
  }

  async browser() {
    this.chromium ??= await puppeteer.launch({
      executablePath: process.env.TUBWARDEN_CHROMIUM ?? "/usr/bin/chromium",
      headless: true,
      pipe: true,
      args: ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"],
    });
    return this.chromium;
  }

  /** A page of its own browser profile. Whatever its console calls an error is kept in `errors`. */
  async page({ width = 390, height = 844, path = "", dark = false } = {}) {
    const context = await (await this.browser()).createBrowserContext();
    const page = await context.newPage();
    page.errors = [];
    page.on("pageerror", (error) => page.errors.push(error.message));
    page.on("console", (message) => message.type() === "error" && page.errors.push(message.text()));
    await page.setViewport({ width, height, isMobile: width < 700, hasTouch: width < 700 });
    await page.emulateMediaFeatures([
      { name: "prefers-color-scheme", value: dark ? "dark" : "light" },
      { name: "prefers-reduced-motion", value: "reduce" },
    ]);
    await page.goto(this.url + path, { waitUntil: "domcontentloaded" });
    return page;
  }

  async end() {
    await this.chromium?.close().catch(() => {});
    for (const child of this.running.reverse()) {
      if (child.exitCode !== null || child.signalCode !== null) continue;
      child.kill("SIGTERM");
      await Promise.race([child.gone, pause(6000).then(() => child.kill("SIGKILL"))]);
    }
    rmSync(this.folder, { recursive: true, force: true });
  }
}

export const drawn = (page) => page.waitForSelector("body[data-drawn]", { timeout: 15000 });

/** Touches the word of that name inside `within`, as a finger or a mouse would. */
export async function touch(page, word, within = "body") {
  const handle = await page.waitForFunction(
    (text, where) =>
      [...(document.querySelector(where)?.querySelectorAll("button, a, summary") ?? [])].find(
        (node) => node.textContent.trim() === text && node.checkVisibility(),
      ),
    { timeout: 8000, polling: 50 },
    word,
    within,
  );
  await handle.asElement().click();
}

export const said = (page, pattern) =>
  page.waitForFunction(
    (source) => new RegExp(source).test(document.getElementById("said").textContent),
    { timeout: 8000, polling: 50 },
    pattern,
  );
