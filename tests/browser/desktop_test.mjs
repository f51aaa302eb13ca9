// The sheet on a desk: a tub's page, its record, keys, the time that is shown, and what a screen
// reader is given.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { AXE, Rig, drawn, said, touch, until } from "./rig.mjs";

const DESK = { width: 1280, height: 900 };
let rig, page;

before(
  async () => {
    rig = await Rig.start();
    await rig.air("tub-1", { rh: 86, t: 16.5, co2: 700 });
    await rig.air("tub-2", { rh: 72, t: 17.5, co2: 1500 });
    await rig.cli("note", "tub-1", "first pins at the left edge");
    page = await rig.page({ ...DESK, path: "#tub-1" });
    await drawn(page);
  },
  { timeout: 40000 },
);
after(() => rig?.end());

const openFrom = (target) =>
  target.evaluate(() => {
    const svg = document.querySelector("svg.lane");
    return Number(svg.getAttribute("data-to")) - Number(svg.getAttribute("data-from"));
  });
const lengthIs = (hours) =>
  until(
    async () => Math.abs((await openFrom(page)) / 3600000 - hours) < 0.02,
    `${hours} h of paper`,
  );

async function serious(target, where) {
  await target.evaluate(AXE);
  const found = await target.evaluate(() =>
    axe
      .run(document, {
        runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
      })
      .then((r) => ({
        passed: r.passes.length,
        serious: r.violations
          .filter((v) => ["serious", "critical"].includes(v.impact))
          .map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 90)).join(" | ")}`),
        others: r.violations.map((v) => v.id),
      })),
  );
  if (found.others.length) console.log(`${where}: axe says ${found.others.join(", ")}`);
  assert.deepEqual(found.serious, [], where);
  assert.ok(found.passed > 20, `${where}: axe looked at ${found.passed} rules`);
}

test("a change of phase asks again, and reaches the record with its note", async () => {
  await touch(page, "change phase");
  await page.select('select[name="phase"]', "casing");
  await page.type('.line:not([hidden]) input[name="note"]', "cased this morning");
  await touch(page, "go on");
  assert.equal(
    (await rig.status()).tubs.find((t) => t.id === "tub-1").phase,
    "fruiting",
    "asked first",
  );
  await touch(page, "yes, tub-1 is in casing");
  await said(page, "casing");
  assert.equal((await rig.status()).tubs.find((t) => t.id === "tub-1").phase, "casing");
  const rows = await rig.timeline("B-01");
  assert.ok(
    rows.some(
      (r) =>
        r.kind === "phase" &&
        /fruiting -> casing/.test(r.text) &&
        /cased this morning/.test(r.text),
    ),
    JSON.stringify(rows.at(-1)),
  );
  await page.waitForFunction(() =>
    /casing, day 1/.test(document.querySelector(".one .phase").textContent),
  );
  await page.waitForFunction(
    () => /fruiting -> casing/.test(document.querySelector(".record").textContent),
    { timeout: 25000 },
  );
});

test("a note and water reach the record", async () => {
  await touch(page, "note");
  await page.type("textarea", "mist ring on the lid");
  await touch(page, "enter the note");
  await said(page, "noted for tub-1");
  await touch(page, "watered");
  await page.type('input[name="ml"]', "150");
  await touch(page, "enter the water");
  await said(page, "150 mL");
  const texts = (await rig.timeline("B-01")).map((r) => r.text).join("\n");
  assert.match(texts, /mist ring on the lid/);
  assert.match(texts, /150 mL/);
});

test("a refusal is said in the daemon's words, and nothing is lost of what was typed", async () => {
  await page.evaluate(() => {
    document.querySelector('input[name="ml"]').max = "99999";
  });
  await touch(page, "watered");
  await page.type('input[name="ml"]', "50000");
  await touch(page, "enter the water");
  await page.waitForSelector("#said.failed");
  assert.equal(await page.$eval('input[name="ml"]', (node) => node.value), "50000");
  await page.keyboard.press("Escape");
});

test("words, keys and a drag show another time", async () => {
  await touch(page, "6 h");
  await lengthIs(6);
  await page.focus(".strips");
  await page.keyboard.press("+");
  await lengthIs(3);
  await page.keyboard.press("-");
  await page.keyboard.press("-");
  await lengthIs(12);
  await page.keyboard.press("0");
  await lengthIs(24);
  const box = await (await page.$("svg.lane")).boundingBox();
  await page.mouse.move(box.x + 300, box.y + 20);
  await page.mouse.down();
  await page.mouse.move(box.x + 500, box.y + 25, { steps: 5 });
  await page.mouse.up();
  const wanted = (24 * 200) / (box.width - 70);
  await until(
    async () => Math.abs((await openFrom(page)) / 3600000 - wanted) < 0.2,
    `${wanted} h by a drag`,
  );
  await page.focus(".strips");
  await page.keyboard.press("ArrowLeft");
  assert.match(await page.$eval(".shown", (node) => node.textContent), / to /);
  await touch(page, "the batch");
  await lengthIs(1.02);
  await page.waitForSelector("svg.axis .mark.phase");
});

test("Fahrenheit, kept over a reload, in figures and in sentences", async () => {
  await page.click('#units [aria-label="Fahrenheit"]');
  const air = () =>
    page.evaluate(() =>
      [...document.querySelectorAll(".reading")]
        .find((node) => node.textContent.startsWith("air"))
        .textContent.replace(/\s+/g, " "),
    );
  await until(async () => (await air()).startsWith("air 61.7 F"), "61.7 F for 16.5 C");
  await page.reload();
  await drawn(page);
  await until(async () => (await air()).startsWith("air 61.7 F"), "61.7 F after a reload");
  await page.click('#units [aria-label="Celsius"]');
});

test("the chart's values stand in a table", async () => {
  await touch(page, "these readings as a table");
  await page.waitForFunction(
    () => {
      const text = document.querySelector(".figures table").textContent;
      return /humidity, %/.test(text) && /86\.0/.test(text);
    },
    { timeout: 8000, polling: 50 },
  );
});

test("a pointer on the paper reads the moment below it", async () => {
  await touch(page, "24 h");
  const box = await (await page.$('svg[data-quantity="humidity"]')).boundingBox();
  const pen = await page.$eval(
    'svg[data-quantity="humidity"] path.pen',
    (node) => node.getBBox().x,
  );
  await page.mouse.move(box.x + pen - 1, box.y + 30);
  await page.waitForFunction(
    () => /humidity 86\.0.%, air 16\.5.C/.test(document.querySelector(".readout").textContent),
    { timeout: 8000, polling: 50 },
  );
  await page.mouse.move(box.x + 100, box.y + 30);
  await page.waitForFunction(
    () => /nothing was heard/.test(document.querySelector(".readout").textContent),
    { timeout: 8000, polling: 50 },
  );
  await page.mouse.move(5, 5);
});

test("axe finds nothing serious: light and dark, both pages, lines open", async () => {
  await serious(page, "a tub's page");
  for (const word of ["change phase", "picked", "hands in the tub"]) {
    await touch(page, word);
    await serious(page, `a tub's page, ${word}`);
  }
  for (const dark of [false, true]) {
    const front = await rig.page({ ...DESK, dark });
    await drawn(front);
    await serious(front, `all tubs, ${dark ? "dark" : "light"}`);
    assert.deepEqual(
      front.errors.filter((e) => !/404/.test(e)),
      [],
    );
    await front.close();
  }
});

test("by the keyboard alone: Tab reaches every act, Enter does it", async () => {
  const front = await rig.page(DESK);
  await drawn(front);
  const reached = new Set();
  for (let i = 0; i < 80; ++i) {
    await front.keyboard.press("Tab");
    const here = await front.evaluate(() => {
      const node = document.activeElement;
      if (node === document.body) return null;
      const outline = getComputedStyle(node);
      const shown = outline.outlineStyle !== "none" && parseFloat(outline.outlineWidth) >= 2;
      return {
        where: node.closest("[data-tub]")?.dataset.tub ?? "",
        word: node.textContent.trim(),
        shown,
      };
    });
    if (here === null) break;
    assert.ok(here.shown, `the focus is seen on ${here.word || "the strips"}`);
    reached.add(`${here.where} ${here.word}`.trim());
  }
  for (const tub of ["tub-1", "tub-2"]) {
    for (const word of ["hands in the tub", "picked", "note"])
      assert.ok(reached.has(`${tub} ${word}`), `${tub} ${word}`);
  }
  for (const word of ["6 h", "24 h", "7 days", "C", "F"]) assert.ok(reached.has(word), word);
  await front.evaluate(() =>
    [...document.querySelectorAll('[data-tub="tub-2"] button')]
      .find((b) => b.textContent === "note")
      .focus(),
  );
  await front.keyboard.press("Enter");
  await front.keyboard.type("by keys alone");
  await front.keyboard.press("Tab");
  await front.keyboard.press("Enter");
  await said(front, "noted for tub-2");
  assert.ok((await rig.timeline("B-02")).some((r) => /by keys alone/.test(r.text)));
  assert.equal(
    await front.evaluate(() => document.activeElement.textContent),
    "note",
    "back where it began",
  );
  await front.close();
});
