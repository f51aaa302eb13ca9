// The sheet on a phone beside the tub: what it loads, draws and says, and what a thumb can do
// with it.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { drawnTrace, endsWith } from "./chart.mjs";
import { Rig, drawn, said, touch, until } from "./rig.mjs";

const FIRST_SCREEN_BYTES_MAX = 150 * 1024;
let rig, page;

before(
  async () => {
    rig = await Rig.start();
    await rig.air("tub-1", { rh: 84, t: 16.5, co2: 700 });
    await rig.air("tub-2", { rh: 88, t: 17.5, co2: 800 });
  },
  { timeout: 40000 },
);
after(() => rig?.end());

const readingOf = (tub, name) =>
  page.evaluate(
    (id, word) =>
      [...document.querySelectorAll(`[data-tub="${id}"] .reading`)]
        .find((node) => node.textContent.startsWith(word))
        ?.textContent.replace(/\s+/g, " "),
    tub,
    name,
  );

test("the first screen is at most 150 KB over the wire", async () => {
  // From another page of the same host on, so that the first byte is seen, too.
  page = await rig.page({ path: "signin" });
  const wire = await page.createCDPSession();
  await wire.send("Network.enable");
  await wire.send("Network.clearBrowserCache");
  let bytes = 0,
    files = 0;
  wire.on("Network.loadingFinished", ({ encodedDataLength }) => {
    bytes += encodedDataLength;
    ++files;
  });
  await page.goto(rig.url, { waitUntil: "domcontentloaded" });
  await drawn(page);
  await wire.detach();
  console.log(`first screen: ${bytes} bytes in ${files} answers`);
  assert.ok(files >= 8, `${files} answers were seen`);
  assert.ok(bytes > 20000 && bytes <= FIRST_SCREEN_BYTES_MAX, `${bytes} bytes`);
});

test("a reading appears without a reload, with unit, age and where it stands", async () => {
  await page.evaluate(() => {
    window.still = "the same page";
  });
  await rig.publish("shed/tub-1/air", '{"rh": 83.4, "t": 16.2, "co2": 712}');
  await until(
    async () => /^humidity 83\.4 % low \(?85 to 90/.test(await readingOf("tub-1", "humidity")),
    "83.4 %",
  );
  assert.match(await readingOf("tub-1", "humidity"), /now$/);
  assert.match(await readingOf("tub-1", "CO2"), /^CO2 712 ppm in band/);
  assert.equal(await page.evaluate(() => window.still), "the same page");
});

test("the chart draws the readings that were published", async () => {
  const told = [
    [86.1, 640],
    [87.3, 655],
    [89.9, 671],
    [84.2, 690],
    [85.5, 718],
  ];
  for (const [rh, co2] of told) {
    await rig.publish("shed/tub-2/air", JSON.stringify({ rh, t: 17.5, co2 }));
    await until(
      async () => (await readingOf("tub-2", "CO2")).startsWith(`CO2 ${co2} ppm`),
      `${co2} ppm`,
    );
  }
  for (const [quantity, at] of [
    ["humidity", 0],
    ["co2", 1],
  ]) {
    const values = told.map((one) => one[at]);
    let trace;
    await until(async () => {
      trace = await drawnTrace(page, "tub-2", quantity);
      return endsWith(trace, values);
    }, `${quantity} as published`).catch(() =>
      assert.fail(`${quantity}: ${JSON.stringify(trace.slice(-8))}`),
    );
    assert.ok(
      Math.abs(trace.at(-1).at - Date.now()) < 30000,
      "the last reading stands at its time",
    );
    assert.ok(
      trace.every((p, i) => i === 0 || p.at >= trace[i - 1].at),
      "time runs to the right",
    );
  }
});

test("hands in the tub, in two touches", async () => {
  await touch(page, "hands in the tub", '[data-tub="tub-1"]');
  await touch(page, "20 min", '[data-tub="tub-1"]');
  await said(page, "hands in tub-1");
  const hands = (await rig.status()).chambers.find((c) => c.id === "tub-1").hands;
  assert.equal(hands.length, 1);
  assert.ok(hands[0].left_s > 1100 && hands[0].left_s <= 1200, `${hands[0].left_s} s`);
  await touch(page, "hands are out", '[data-tub="tub-1"]');
  await until(
    async () => (await rig.status()).chambers.find((c) => c.id === "tub-1").hands.length === 0,
    "out",
  );
});

test("a harvest, in two touches and a number", async () => {
  await rig.cli("culture", "receive", "LC-1", "--volume", "10mL");
  const jar = ["jar", "add", "--batch", "B-02", "--id", "J-1"];
  await rig.cli(...jar, "--culture", "LC-1", "--dose", "1mL");
  await rig.cli("spawn", "tub-2", "--jars", "J-1", "--substrate", "5kg");
  await touch(page, "picked", '[data-tub="tub-2"]');
  await page.keyboard.type("412"); // the field of the number has the focus already
  await touch(page, "enter the harvest", '[data-tub="tub-2"]');
  await said(page, "412 g picked in tub-2");
  const rows = await rig.timeline("B-02");
  assert.ok(
    rows.some((row) => /412 g picked in tub-2/.test(row.text)),
    JSON.stringify(rows.at(-1)),
  );
});

test("what is lost is said and found again, and the history draws what was published", async () => {
  const says = (pattern) =>
    page.waitForFunction(
      (source) => new RegExp(source).test(document.getElementById("live").textContent),
      { timeout: 15000, polling: 50 },
      pattern,
    );
  await rig.stopDaemon();
  await says("live is lost since \\d\\d:\\d\\d");
  await rig.startDaemon();
  await says("^live$");
  const kept = (await rig.ask("history", "tub-2", "--from", "1h", "--every", "10m")).series.find(
    (series) => series.quantity === "co2",
  ).values;
  const other = await rig.page();
  await drawn(other);
  const trace = await until(async () => {
    const all = await drawnTrace(other, "tub-2", "co2");
    return all.length >= kept.length && all;
  }, "the trace of the history");
  kept.forEach((value, i) => {
    const point = trace.at(i - kept.length);
    assert.ok(
      Math.abs(point.value - value.mean) < 0.01 * value.mean,
      `${point.value} for ${value.mean} ppm`,
    );
    assert.ok(Math.abs(point.at - Date.parse(value.at)) < 600000, "at its time");
  });
  await other.close();
});

test("360 px wide, nothing runs over the edge", async () => {
  await page.setViewport({ width: 360, height: 740, isMobile: true, hasTouch: true });
  const over = await page.evaluate(
    () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
  );
  assert.equal(over, 0);
});
