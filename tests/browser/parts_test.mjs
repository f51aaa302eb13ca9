// Parts of the page that need no browser: words, what is known, and the past; bad input, too.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

const PAGE = new URL("../../daemon/shell/sheet/page/", import.meta.url);
const part = (name) =>
  import("data:text/javascript," + encodeURIComponent(readFileSync(new URL(name, PAGE), "utf8")));
const words = await part("words.js");
const { merge } = await part("api.js");
const { Past, widthFor } = await part("past.js");
const plain = (text) => text.replaceAll("\u00a0", " ");

test("where a reading stands", () => {
  const q = (value, more) => ({
    value,
    unit: "%",
    usable: true,
    keep: [85, 90],
    warn: [78, 95],
    ...more,
  });
  const word = (...given) => words.standing(q(...given)).word;
  assert.equal(word(87), "in band");
  assert.equal(word(85), "in band");
  assert.equal(word(84.9), "low");
  assert.equal(word(77.9), "too low");
  assert.equal(word(90.1), "high");
  assert.equal(word(95.1), "too high");
  assert.equal(word(87, { usable: false }), "not live");
  assert.equal(word(null), "unheard");
  assert.equal(word(87, { keep: null, warn: null }), "");
  assert.equal(word(60, { keep: null, warn: [null, 95] }), "");
  // No air has too little CO2, and none is above 100 %.
  assert.equal(word(400, { unit: "ppm", keep: [420, 1000], warn: null }), "in band");
  assert.equal(word(100, { keep: [90, 100], warn: null }), "in band");
});

test("bands, spans, and phases as words", () => {
  assert.equal(plain(words.bandWords([85, 90], "%")), "85 to 90 %");
  assert.equal(plain(words.bandWords([420, 1000], "ppm")), "below 1000 ppm");
  assert.equal(plain(words.bandWords([90, 100], "%")), "above 90 %");
  assert.equal(words.bandWords(null, "%"), "");
  for (const [seconds, told] of [
    [-5, "0 s"],
    [89, "89 s"],
    [90, "2 min"],
    [7200, "2 h"],
    [259200, "3 days"],
  ]) {
    assert.equal(plain(words.span(seconds)), told);
  }
  assert.equal(
    words.phaseWords({ phase: "fruiting", day: 3, flush: 2 }),
    "fruiting, day 3, flush 2",
  );
  assert.equal(words.phaseWords({ phase: "empty", day: 1 }), "empty");
  assert.equal(words.phaseWords({ phase: "" }), "phase not confirmed");
});

test("sentences in Fahrenheit: temperatures turn, differences are only scaled", () => {
  const told =
    "heater: substrate temperature is 20 C, 4.5 C below the middle of its band; it starts below " +
    "24.38 C; 24 to 25.5 C is kept, CO2 is 900 ppm.";
  assert.equal(words.sentence(told), told);
  words.setFahrenheit(true);
  assert.equal(
    words.sentence(told),
    "heater: substrate temperature is 68 F, 8.1 F below the middle of its band; it starts below " +
      "75.9 F; 75.2 to 77.9 F is kept, CO2 is 900 ppm.",
  );
  assert.equal(plain(words.amount(16.5, "C")), "61.7 F");
  assert.equal(plain(words.amount(83.4, "%")), "83.4 %");
  words.setFahrenheit(false);
});

test("a change goes into what is known: whole elements, and what is gone", () => {
  const known = {
    site: "shed",
    tubs: [{ id: "tub-1", phase: "casing", elapsed_s: 5 }, { id: "tub-2" }],
    chambers: [{ id: "tub-1", air: [] }],
    alerts: [{ place: "site" }],
  };
  const next = merge(known, {
    tubs: [{ id: "tub-1", phase: "fruiting" }],
    gone: { tubs: ["tub-2"] },
  });
  assert.deepEqual(next.tubs, [{ id: "tub-1", phase: "fruiting", elapsed_s: 5 }]);
  assert.deepEqual(next.chambers, known.chambers);
  assert.deepEqual(next.alerts, known.alerts);
  assert.equal(next.gone, undefined);
  assert.deepEqual(merge(known, { alerts: [] }).alerts, []);
});

test("the past: several answers become one, and what is not yet written stays", async () => {
  const minute = 60000;
  const at = (n) => new Date(n * minute).toISOString();
  const answer = (from, next, values) => ({
    next,
    runs: [{ id: "fan", began: at(from), lasted_s: 30, now: false }],
    series: [{ sensor: "air", quantity: "humidity", points: values }],
  });
  const asked = [];
  const answers = [answer(0, at(5), [[at(0), 80, 81, 82, 5]]), answer(5, null, [[at(5), 83]])];
  const past = new Past(async (path, query) => {
    asked.push([path, query.from]);
    return answers[(asked.length - 1) % 2];
  });
  await past.load("tub-1", 0, 10 * minute, 600);
  assert.deepEqual(asked, [
    ["history", at(0)],
    ["history", at(5)],
  ]);
  assert.deepEqual(past.points("tub-1", "humidity"), [
    { at: 0, low: 80, mean: 81, high: 82 },
    { at: 5 * minute, low: 83, mean: 83, high: 83 },
  ]);
  assert.equal(past.runs("tub-1", "fan").length, 2);
  const air = (value) => ({
    id: "tub-1",
    air: [
      { quantity: "humidity", value, usable: true },
      { quantity: "co2", value: null, usable: false },
    ],
    actuators: [{ id: "fan", level_pct: 100 }],
  });
  past.hear(air(84), 9.5 * minute);
  past.hear(air(85), 9.6 * minute);
  await past.load("tub-1", 0, 10 * minute, 600);
  assert.deepEqual(
    past.points("tub-1", "humidity").map((p) => p.mean),
    [81, 83, 84, 85],
  );
  assert.deepEqual(past.points("tub-1", "co2"), []);
  assert.deepEqual(past.points("tub-9", "humidity"), []);
  const run = past.runs("tub-1", "fan").at(-1);
  assert.deepEqual([run.from, run.to], [9.5 * minute, 9.6 * minute]);
});

test("the width of a point keeps an answer as short as the paper", () => {
  const day = 86400000;
  for (const [length, px, width] of [
    [3600000, 600, 20],
    [day, 600, 300],
    [day, 330, 600],
    [7 * day, 600, 3600],
    [60 * day, 600, 21600],
    [4000 * day, 330, 86400],
  ]) {
    assert.equal(widthFor(0, length, px), width);
  }
});
