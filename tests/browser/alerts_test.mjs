// What is wrong, on a phone: told in the daemon's words, seen, and off while somebody mends it.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { Rig, drawn, touch, until } from "./rig.mjs";

let rig, page;

before(
  async () => {
    rig = await Rig.start({ tubs: ["tub-1"] });
    await rig.air("tub-1", { rh: 84, t: 16.5, co2: 700 });
    page = await rig.page();
    await drawn(page);
  },
  { timeout: 40000 },
);
after(() => rig?.end());

test("seen, in one touch, reaches the daemon and the channel", async () => {
  // One reading that leaps would be a spike, and drive and alert nothing.
  await until(async () => {
    await rig.publish("shed/tub-1/air", '{"rh": 61, "t": 16.2, "co2": 712}');
    return page.$('[data-key^="tub-1.humidity"]');
  }, "the alert on the page");
  await until(() => rig.notes.includes("tub-1"), "the alert in the channel");
  const before = rig.notes.length;
  await touch(page, "seen", '[data-key^="tub-1.humidity"]');
  await until(
    async () =>
      (await rig.status()).alerts.some(
        (a) => a.place === "tub-1" && /humidity/.test(a.cause) && (a.seen || a.state === "seen"),
      ),
    "seen",
  );
  await until(() => /seen by /.test(rig.notes.slice(before)), "seen in the channel");
});

test("off while I fix it stays listed, with its reason, until it is on again", async () => {
  await touch(page, "off while I fix it", '[data-key^="tub-1.humidity"]');
  await page.keyboard.down("Control");
  await page.keyboard.press("a");
  await page.keyboard.up("Control");
  await page.keyboard.type("the nozzle is out");
  await touch(page, "off until I say", '[data-key^="tub-1.humidity"]');
  await page.waitForFunction(
    () =>
      [...document.querySelectorAll("h2")].some(
        (head) =>
          head.textContent === "off while you fix it" &&
          head.checkVisibility() &&
          /the nozzle is out/.test(head.nextElementSibling.textContent),
      ),
    { timeout: 15000, polling: 50 },
  );
  assert.ok((await rig.ask("alerts")).alerts.some((a) => a.place === "tub-1" && a.state === "off"));
  await touch(page, "it is mended: on again", '[data-key^="tub-1.humidity"]');
  await until(
    async () => !(await rig.ask("alerts")).alerts.some((a) => a.state === "off"),
    "on again",
  );
});
