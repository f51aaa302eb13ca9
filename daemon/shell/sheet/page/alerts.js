// What is wrong, the pressing first, each with the three verbs: seen, quiet until, off while I fix
// it. What another alert covers is told with that one. What is off stays listed until it is back.

import { h, say, announce, freshId } from "./dom.js";
import * as words from "./words.js";

const RANKS = ["now", "today", "noted"];
const RANK_WORDS = { now: "now: act", today: "today", noted: "noted" };

const keyOf = (alert) => `${alert.place}.${alert.cause}`;

export const isOff = (alert) => alert.state === "off";
const isQuiet = (alert) => alert.state === "quiet";
const isSeen = (alert) => alert.state === "seen";
const isOver = (alert) => alert.state === "over_unseen";

const labelOf = (alert, word) => `${word}: ${alert.place}, ${alert.cause.replaceAll("_", " ")}`;

/** For how long: until a moment the reader names by a word. */
function untils() {
  const morning = new Date();
  morning.setDate(morning.getDate() + (morning.getHours() >= 7 ? 1 : 0));
  morning.setHours(7, 0, 0, 0);
  const minutes = Math.max(1, Math.round((morning - Date.now()) / 60000));
  return [
    ["for 1 h", "1h"],
    ["for 4 h", "4h"],
    [`until ${words.clock(morning)}`, `${minutes}m`],
  ];
}

/** What it means, what to do, how long one has, and what is told with it. */
function moreOf(alert, covered) {
  const parts = [alert.means, alert.do, alert.have]
    .filter(Boolean)
    .map((part) => (/[.!?]$/.test(part) ? part : `${part}.`));
  if (covered.length) parts.push(`With it: ${covered.map((one) => one.text).join(" ")}`);
  return parts.join(" ");
}

function standsFor(alert) {
  const parts = [];
  if (isOver(alert)) parts.push("it is over, and nobody has said that they saw it");
  else if (alert.at_ms) parts.push(`for ${words.span((Date.now() - alert.at_ms) / 1000)}`);
  if (isSeen(alert)) parts.push("seen");
  if (alert.quiet_until) parts.push(`quiet until ${words.moment(new Date(alert.quiet_until))}`);
  if (isOff(alert) && alert.note) parts.push(alert.note);
  return parts.join(", ");
}

export class Alerts {
  /** `act` tells the daemon; `refresh` asks for what stands now. */
  constructor({ act, may, refresh }) {
    this.act = act;
    this.may = may;
    this.refresh = refresh;
    this.items = new Map();
    this.head = h("h2", { id: freshId("wrong"), tabindex: "-1" });
    this.list = h("ul", { class: "alerts" });
    this.offHead = h("h2", {}, "off while you fix it");
    this.offList = h("ul", { class: "alerts" });
    this.node = h(
      "section",
      { class: "wrong", "aria-labelledby": this.head.id },
      this.head,
      this.list,
      this.offHead,
      this.offList,
    );
  }

  update(alerts) {
    const covered = (root) => alerts.filter((one) => one.covered_by === keyOf(root));
    const hidden = (one) => one.covered_by && alerts.some((root) => keyOf(root) === one.covered_by);
    const shown = alerts.filter((one) => isOff(one) || !hidden(one));
    shown.sort((a, b) => RANKS.indexOf(a.rank) - RANKS.indexOf(b.rank));
    const keys = new Set(shown.map(keyOf));
    for (const alert of shown) {
      const item = this.item(alert);
      const list = isOff(alert) ? this.offList : this.list;
      if (item.node.parentNode !== list) list.append(item.node);
      say(item.text, words.sentence(alert.text));
      say(item.more, words.sentence(moreOf(alert, covered(alert))));
      say(item.since, standsFor(alert));
    }
    for (const [key, item] of this.items) {
      if (keys.has(key)) continue;
      if (item.node.contains(document.activeElement)) this.head.focus();
      item.node.remove();
      this.items.delete(key);
    }
    const wrong = this.list.childElementCount;
    say(
      this.head,
      wrong === 0
        ? "nothing is wrong"
        : wrong === 1
          ? "one thing is wrong"
          : `${wrong} things are wrong`,
    );
    this.node.classList.toggle("calm", wrong === 0);
    this.offHead.hidden = this.offList.hidden = this.offList.childElementCount === 0;
  }

  /** Made anew only when other verbs fit, so that an open line stays open. */
  item(alert) {
    const key = keyOf(alert);
    const shape = [alert.rank, alert.state].join();
    const before = this.items.get(key);
    if (before?.shape === shape) return before;
    const had = before?.node.contains(document.activeElement);
    const item = { shape, ...this.build(alert) };
    before?.node.replaceWith(item.node);
    this.items.set(key, item);
    if (had) (item.node.querySelector("button") ?? this.head).focus();
    return item;
  }

  build(alert) {
    const text = h("span", { class: "text" });
    const more = h("span", { class: "more" });
    const since = h("span", { class: "since" });
    const rank = h("b", { class: "rank" }, RANK_WORDS[alert.rank] ?? alert.rank);
    const told = h("p", {}, rank, " ", text, " ", more, " ", since);
    const node = h(
      "li",
      { class: "alert rank-" + alert.rank, "data-key": keyOf(alert) },
      told,
      this.verbs(alert),
    );
    return { node, text, more, since };
  }

  verbs(alert) {
    const node = h("div", { class: "words" });
    if (isOff(alert)) {
      node.append(this.verb(alert, "it is mended: on again", "alert_back"));
      return node;
    }
    if (isQuiet(alert)) {
      node.append(this.verb(alert, "no longer quiet", "alert_back"));
      return node;
    }
    if (!isSeen(alert)) node.append(this.verb(alert, "seen", "alert_seen"));
    if (isOver(alert)) return node;
    const quiet = h("div", { class: "line" });
    for (const [word, time] of untils()) {
      quiet.append(this.verb(alert, word, "alert_quiet", { for: time }), " ");
    }
    this.opens(node, alert, "quiet until", quiet);
    this.opens(node, alert, "off while I fix it", this.offLine(alert));
    return node;
  }

  /** The record wants to know why an alert is off; a word of ours is there to be changed. */
  offLine(alert) {
    const id = freshId("field");
    const note = h("input", {
      id,
      name: "note",
      maxlength: "400",
      required: true,
      value: "I am on it",
    });
    return h(
      "form",
      {
        class: "line",
        onsubmit: (event) => {
          event.preventDefault();
          this.tell(alert, "alert_off", { note: note.value });
        },
      },
      h("p", {}, h("label", { for: id }, "what you fix"), note),
      h("button", { type: "submit" }, "off until I say"),
    );
  }

  verb(alert, word, what, args = {}) {
    const attributes = {
      type: "button",
      disabled: !this.may,
      "aria-label": labelOf(alert, word),
      onclick: () => this.tell(alert, what, args),
    };
    return h("button", attributes, word);
  }

  opens(node, alert, word, line) {
    line.id = freshId("line");
    line.hidden = true;
    const turn = h(
      "button",
      {
        type: "button",
        disabled: !this.may,
        "aria-expanded": "false",
        "aria-controls": line.id,
        "aria-label": labelOf(alert, word),
        onclick: () => {
          line.hidden = !line.hidden;
          turn.setAttribute("aria-expanded", String(!line.hidden));
          if (!line.hidden) line.querySelector("input, button").focus();
        },
      },
      word,
    );
    node.append(turn, line);
  }

  async tell(alert, what, args) {
    try {
      const key = { key: keyOf(alert), place: alert.place, cause: alert.cause };
      const done = await this.act(what, { ...key, ...args });
      announce(words.sentence(done.text ?? "Done."));
      this.refresh();
    } catch (error) {
      announce(error.message, true);
    }
  }
}
