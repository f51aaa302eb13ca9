// The page: what is known, one shared time axis, and the two views (all tubs, one tub). Joins the
// other files; they do not know each other's state.

import { isOff } from "./alerts.js";
import { act, follow, get, merge } from "./api.js";
import { announce, h, say } from "./dom.js";
import { Axis } from "./axis.js";
import { Front } from "./front.js";
import { Past } from "./past.js";
import { TubPage } from "./tub.js";
import * as words from "./words.js";

const STATUS_EACH_MS = 30000;
const PAST_EACH_MS = 300000;

const page = {
  state: null, // as the daemon told it
  me: { may: "read" },
  at: 0, // our clock when `state` was heard
  ahead: 0, // how far the daemon's clock is ahead of ours, ms
  heardAt: new Map(), // "chamber/quantity" -> our clock at its last reading
  past: new Past(get),
  axis: null,
  view: null,
  stream: null,
};

const main = document.getElementById("main");
const now = () => Date.now() + page.ahead;

/** Seconds since a quantity was last heard, or null. */
const ageOf = (chamber) => (q) => {
  const at = page.heardAt.get(`${chamber}/${q.quantity}`);
  return at === undefined ? null : (Date.now() - at) / 1000;
};

function hearAges(chambers, before) {
  for (const chamber of chambers ?? []) {
    const was = new Map(
      (before?.find((c) => c.id === chamber.id)?.air ?? []).map((q) => [q.quantity, q.value]),
    );
    for (const q of chamber.air ?? []) {
      if (q.value === null) continue;
      const key = `${chamber.id}/${q.quantity}`;
      if (typeof q.age_s === "number") page.heardAt.set(key, Date.now() - q.age_s * 1000);
      else if (q.usable && was.get(q.quantity) !== q.value) page.heardAt.set(key, Date.now());
    }
  }
}

function take(data) {
  const at = Date.parse(data.at ?? "");
  if (at) page.ahead = at - Date.now();
  hearAges(data.chambers, page.state?.chambers);
  for (const alert of [...(data.alerts ?? []), ...(data.off ?? [])]) {
    const same = page.state?.alerts?.find(
      (a) => a.place === alert.place && a.cause === alert.cause,
    );
    alert.at_ms =
      typeof alert.since_s === "number"
        ? Date.now() - alert.since_s * 1000
        : (same?.at_ms ?? Date.now());
  }
  for (const tub of data.tubs ?? []) {
    const was = page.state?.tubs?.find((one) => one.id === tub.id);
    tub.began_ms =
      typeof tub.elapsed_s === "number"
        ? now() - tub.elapsed_s * 1000
        : was && was.phase === tub.phase
          ? was.began_ms
          : now();
  }
  page.state = page.state ? merge(page.state, data) : data;
  for (const chamber of data.chambers ?? []) page.past.hear(chamber, now());
  show();
}

let drawn = 0;
function show() {
  say(document.getElementById("site"), page.state.site ?? "The sheet");
  const wrong = page.state.alerts.filter((alert) => !isOff(alert)).length;
  document.title = `${page.state.site}: ${wrong || "nothing"} wrong`;
  if (!page.view) route();
  page.view.update(page.state);
  if (!drawn) drawn = requestAnimationFrame(draw);
}

function draw() {
  drawn = 0;
  if (!page.view) return;
  page.axis.follow(now());
  page.view.draw(page.axis);
}

/** What the paper shows is asked for anew where it shows another time than before. */
async function loadPast() {
  if (!page.view) return;
  const [from, to] = page.axis.span(now());
  const wanted = page.view.chambers();
  await Promise.all(
    wanted.map(async (chamber) => {
      try {
        await page.past.load(chamber, from, Math.min(to, now()), page.axis.width());
        const known = page.state.chambers.find((c) => c.id === chamber);
        if (known && page.axis.live) page.past.hear(known, now());
      } catch (error) {
        announce(`The past of ${chamber} could not be read: ${error.message}`, true);
      }
      page.view.update(page.state);
      draw();
      performance.mark("sheet-first");
    }),
  );
  performance.mark("sheet-drawn");
  document.body.dataset.drawn = "yes";
}

function route() {
  const id = decodeURIComponent(location.hash.slice(1));
  const tub = page.state.tubs.find((one) => one.id === id);
  if (page.view?.id === (tub ? id : "")) return;
  page.axis.follow(now());
  page.axis.reset(tub ? tub.id : "");
  const parts = {
    act,
    get,
    past: page.past,
    axis: page.axis,
    may: page.me.may === "act",
    refresh: status,
    ageOf,
    now,
  };
  page.view = tub ? new TubPage(parts, tub.id) : new Front(parts);
  main.replaceChildren(page.view.node);
  page.view.update(page.state);
  draw();
  loadPast();
}

function units() {
  const box = document.getElementById("units");
  const button = (fahrenheit, word) =>
    h(
      "button",
      {
        type: "button",
        "aria-pressed": String(words.inFahrenheit() === fahrenheit),
        "aria-label": word,
        onclick: () => {
          words.setFahrenheit(fahrenheit);
          units();
          show();
        },
      },
      fahrenheit ? "F" : "C",
    );
  box.replaceChildren(button(false, "Celsius"), button(true, "Fahrenheit"));
}

function live(text, lost) {
  const sign = document.getElementById("live");
  say(sign, text);
  sign.classList.toggle("lost", lost);
  document.body.classList.toggle("is-lost", lost);
}

function heard(name, data) {
  if (data.too_large) {
    status();
    return;
  }
  if (name === "state" && page.state) {
    const gone = (list) =>
      page.state[list]
        .map((one) => one.id)
        .filter((id) => !data[list].some((one) => one.id === id));
    data.gone = { tubs: gone("tubs"), chambers: gone("chambers") };
  }
  take(data);
  live(data.broker?.up === false ? "live, but the broker is away" : "live", false);
}

async function status() {
  if (document.hidden) return;
  try {
    const all = await get("status");
    if (!page.me.who) {
      known(await get("me"));
      page.view = null; // what may be done is not what was thought
    }
    page.stream?.alive();
    take(all);
    machine(all);
    if (page.stream) live(all.broker?.up === false ? "live; the broker is away" : "live", false);
  } catch {
    page.stream?.miss();
  }
}

function machine(all) {
  const parts = [];
  if (all.broker) {
    parts.push(
      all.broker.up
        ? `The broker ${all.broker.url} is there.`
        : `The broker ${all.broker.url} is away: no reading comes.`,
    );
  }
  if (all.config && all.config.state !== "as read")
    parts.push(`Configuration: ${all.config.state}.`);
  say(document.getElementById("machine"), parts.join(" "));
}

/** Who the reader is; where nobody needs a token there is nobody to sign out. */
function known(me) {
  page.me = me;
  document.getElementById("signout").hidden = !me.tokens;
  say(
    document.getElementById("who"),
    `You are ${me.who}, who may ${me.may === "act" ? "read and act" : "read"}.`,
  );
}

async function begin() {
  units();
  page.axis = new Axis(() => {
    draw();
    loadPast();
  });
  const me = get("me").then(known, () => {});
  try {
    const all = await get("status");
    await me;
    take(all);
    machine(all);
  } catch (error) {
    announce(error.message, true);
  }
  page.stream = follow(
    heard,
    (since) => {
      live(`live is lost since ${words.clock(new Date(since))}: what you see is from then`, true);
    },
    () => status(),
  );
  setInterval(status, STATUS_EACH_MS);
  setInterval(() => page.axis.live && loadPast(), PAST_EACH_MS);
  setInterval(() => page.state && show(), 5000);
  document.getElementById("skip").addEventListener("click", (event) => {
    event.preventDefault(); // what stands behind # is a tub
    main.focus();
  });
  document.addEventListener("visibilitychange", () => status());
  addEventListener("hashchange", () => {
    route();
    main.focus({ preventScroll: true });
    scrollTo(0, 0);
  });
  addEventListener("resize", () => page.state && draw());
}

begin();
