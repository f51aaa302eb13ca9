// Who may come in: a wrong token is refused, one that reads acts nothing, one that acts acts.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { Rig, drawn, said, touch, until } from "./rig.mjs";

let rig, tokens;

before(
  async () => {
    rig = await Rig.start({ tokens: true, tubs: ["tub-1"] });
    await rig.air("tub-1", { rh: 86, t: 16.5, co2: 700 });
    tokens = { read: await rig.token("kitchen", "read"), act: await rig.token("mara", "act") };
  },
  { timeout: 40000 },
);
after(() => rig?.end());

async function signIn(token) {
  const page = await rig.page();
  await page.waitForSelector("#token"); // the page has led here by itself
  await page.type("#token", token);
  await page.keyboard.press("Enter");
  return page;
}

test("a wrong token is refused, and told", async () => {
  const page = await signIn("a-wrong-token-that-nobody-made");
  await page.waitForFunction(() => location.hash === "#wrong");
  assert.ok(await page.$eval("#wrong", (node) => node.checkVisibility()));
  assert.equal(await page.evaluate(() => fetch("api/status").then((r) => r.status)), 401);
  await page.close();
});

test("a token that reads sees the strips and acts nothing", async () => {
  const page = await signIn(tokens.read);
  await drawn(page);
  await page.waitForFunction(() =>
    /86\.0/.test(document.querySelector(".reading b")?.textContent ?? ""),
  );
  assert.ok(
    await page.evaluate(() =>
      [...document.querySelectorAll(".acts button, .alerts button")].every(
        (b) => b.disabled || !b.checkVisibility(),
      ),
    ),
  );
  const status = await page.evaluate(() =>
    fetch("api/act/note", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Tubwarden": "act" },
      body: JSON.stringify({ tub: "tub-1", text: "should not be" }),
    }).then((r) => r.status),
  );
  assert.equal(status, 403);
  await page.close();
});

test("a token that acts is named in the record", async () => {
  const page = await signIn(tokens.act);
  await drawn(page);
  await touch(page, "note", '[data-tub="tub-1"]');
  await page.keyboard.type("from the phone");
  await touch(page, "enter the note");
  await said(page, "noted for tub-1");
  const rows = await until(async () => {
    const all = await rig.timeline("B-01");
    return all.some((r) => /from the phone/.test(r.text)) && all;
  }, "the note in the record");
  assert.match(rows.find((r) => /from the phone/.test(r.text)).who, /mara/);
  assert.ok(!rows.some((r) => /should not be/.test(r.text)));
  await page.close();
});
