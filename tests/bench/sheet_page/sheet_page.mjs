// From a request to the first chart of the sheet, with 60 days of history, in Chromium on this
// machine; beside it an empty page of a bare server, loaded in turn with it. sheet_page.mjs
// FOLDER
import { execFileSync } from "node:child_process";
import { createServer } from "node:http";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const { Rig, drawn } = await import(pathToFileURL(join(here, "../../browser/rig.mjs")));
const LOADS = 15;
const DAYS = 60;
const TUBS = ["tub-1", "tub-2", "tub-3", "tub-4"];

const sorted = (values) => [...values].sort((a, b) => a - b);
const told = (name, values, unit, words) => {
  const all = sorted(values);
  console.log(`${name} ${all[Math.floor(all.length / 2)].toFixed(1)} ${unit}`);
  console.log(
    `#   ${words}; median of ${all.length}, ${all[0].toFixed(1)} to ${all.at(-1).toFixed(1)}`,
  );
};

const empty = createServer((_, response) => {
  response.setHeader("Content-Type", "text/html; charset=utf-8");
  response.end('<!DOCTYPE html><html lang="en"><title>empty</title><p>empty</p></html>');
});
await new Promise((resolve) => empty.listen(0, "127.0.0.1", resolve));
const emptyUrl = `http://127.0.0.1:${empty.address().port}/`;

const rig = await Rig.start({
  tubs: TUBS,
  fill: (record) => execFileSync(process.env.BENCH_SHEET_PAST, [record, String(DAYS), ...TUBS]),
});
try {
  for (const tub of TUBS) await rig.air(tub, { rh: 86, t: 16.5, co2: 700 });
  const page = await rig.page({ path: "signin" });
  const wire = await page.createCDPSession();
  await wire.send("Network.enable");
  let bytes = 0;
  wire.on("Network.loadingFinished", (one) => {
    bytes += one.encodedDataLength;
  });
  const times = { chart: [], whole: [], week: [], floor: [], bytes: [] };
  for (let i = 0; i < LOADS + 2; ++i) {
    await wire.send("Network.clearBrowserCache");
    bytes = 0;
    await page.goto(rig.url, { waitUntil: "domcontentloaded" });
    await drawn(page);
    const chart = await page.evaluate(
      () => performance.getEntriesByName("sheet-first")[0].startTime,
    );
    const whole = await page.evaluate(
      () => performance.getEntriesByName("sheet-drawn")[0].startTime,
    );
    const size = bytes;
    const week = await page.evaluate(async () => {
      const begun = performance.now();
      delete document.body.dataset.drawn;
      [...document.querySelectorAll("button")].find((b) => b.textContent === "7 days").click();
      while (!document.body.dataset.drawn) await new Promise((r) => setTimeout(r, 1));
      return performance.now() - begun;
    });
    await page.goto(emptyUrl, { waitUntil: "load" });
    const floor = await page.evaluate(
      () =>
        new Promise((resolve) =>
          requestAnimationFrame(() => setTimeout(() => resolve(performance.now()))),
        ),
    );
    if (i < 2) continue; // Chromium's own first loads
    times.chart.push(chart);
    times.whole.push(whole);
    times.week.push(week);
    times.floor.push(floor);
    times.bytes.push(size / 1024);
  }
  const load =
    `${TUBS.length} tubs, four quantities each a minute for ${DAYS} days, nothing cached, ` +
    "390 x 844";
  told(
    "sheet_first_chart",
    times.chart,
    "ms",
    `${load}; from the request until the first strip of 24 h is drawn`,
  );
  told("sheet_all_charts", times.whole, "ms", "until the strips of all tubs are drawn");
  told(
    "sheet_first_chart_floor",
    times.floor,
    "ms",
    "an empty page of a bare server: until its first frame",
  );
  told(
    "sheet_week_chart",
    times.week,
    "ms",
    'from the touch of "7 days" until those strips are drawn',
  );
  told(
    "sheet_first_screen",
    times.bytes,
    "KiB",
    "over the wire, gzip and headers included; at most 150",
  );
} finally {
  await rig.end();
  empty.close();
}
