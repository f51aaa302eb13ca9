// What is wrong, the pressing first, each with the three verbs: seen, quiet until, off while I
// fix it. What is off stays listed until it is back.

import { h, say, announce, freshId } from "./dom.js";
import * as words from "./words.js";

const RANKS = ["now", "today", "noted"];
const RANK_WORDS = { now: "now: act", today: "today", noted: "noted" };

const keyOf = (alert) => `${alert.place}/${alert.cause}`;

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

export class Alerts {
  constructor(act, may) {
    this.act = act;
    this.may = may;
    this.items = new Map();
    this.head = h("h2", { id: "wrong-head" });
    this.list = h("ul", { class: "alerts" });
    this.offHead = h("h2", {}, "off while you fix it");
    this.offList = h("ul", { class: "alerts" });
    this.node = h(
      "section",
      { class: "wrong", "aria-labelledby": "wrong-head" },
      this.head,
      this.list,
      this.offHead,
      this.offList,
    );
  }

  update(alerts, known = true) {
    const seen = new Set();
    const order = (a) => RANKS.indexOf(a.rank);
    for (const alert of [...alerts].sort((a, b) => order(a) - order(b))) {
      const key = keyOf(alert);
      seen.add(key);
      let item = this.items.get(key);
      const shape = [alert.rank, alert.state, Boolean(alert.off), this.may].join();
      if (!item || item.shape !== shape) {
        const had = item?.node.contains(document.activeElement);
        item?.node.remove();
        item = this.build(alert, shape);
        this.items.set(key, item);
        if (had) this.head.focus();
      }
      const list = isOff(alert) ? this.offList : this.list;
      if (item.node.parentNode !== list) list.append(item.node);
      say(item.text, words.sentence(alert.text));
      say(item.more, words.sentence(moreOf(alert)));
      say(item.since, standsFor(alert));
    }
    for (const [key, item] of this.items) {
      if (seen.has(key)) continue;
      item.node.remove();
      this.items.delete(key);
    }
    const wrong = this.list.childElementCount,
      off = this.offList.childElementCount;
    say(
      this.head,
      !known
        ? "not yet heard"
        : wrong === 0
          ? "nothing is wrong"
          : wrong === 1
            ? "one thing is wrong"
            : `${wrong} things are wrong`,
    );
    this.node.classList.toggle("calm", wrong === 0);
    this.offHead.hidden = this.offList.hidden = off === 0;
  }

  build(alert, shape) {
    const key = { place: alert.place, cause: alert.cause };
    const text = h("span", { class: "text" });
    const more = h("span", { class: "more" });
    const since = h("span", { class: "since" });
    const verbs = h("div", { class: "words" });
    const node = h(
      "li",
      { class: "alert rank-" + alert.rank, "data-key": keyOf(alert) },
      h(
        "p",
        {},
        h("b", { class: "rank" }, RANK_WORDS[alert.rank] ?? alert.rank),
        " ",
        text,
        " ",
        more,
        " ",
        since,
      ),
      verbs,
    );
    const verb = (word, what, args) =>
      h(
        "button",
        {
          type: "button",
          disabled: !this.may,
          "aria-label": `${word}: ${alert.place}, ${alert.cause.replaceAll("_", " ")}`,
          onclick: () => this.tell(what, { ...key, ...args }),
        },
        word,
      );
    if (isOff(alert)) {
      verbs.append(verb("it is mended: on again", "alert_back"));
    } else {
      if (!isSeen(alert)) verbs.append(verb("seen", "alert_seen"));
      const line = h("div", { class: "line", id: freshId("line"), hidden: true });
      for (const [word, time] of untils())
        line.append(verb(word, "alert_quiet", { for: time }), " ");
      const open = h(
        "button",
        {
          type: "button",
          disabled: !this.may,
          "aria-expanded": "false",
          "aria-controls": line.id,
          onclick: () => {
            line.hidden = !line.hidden;
            open.setAttribute("aria-expanded", String(!line.hidden));
            if (!line.hidden) line.querySelector("button").focus();
          },
        },
        "quiet until",
      );
      verbs.append(open, verb("off while I fix it", "alert_off"), line);
    }
    return { node, text, more, since, shape };
  }

  async tell(what, args) {
    try {
      const done = await this.act(what, args);
      announce(words.sentence(done.text ?? "Done."));
    } catch (error) {
      announce(error.message, true);
    }
  }
}

export const isOff = (alert) => alert.off === true || alert.state === "off";
const isSeen = (alert) => alert.seen === true || alert.state === "seen";
const isOver = (alert) => alert.state === "over_unseen";

const moreOf = (alert) => [alert.means, alert.steps, alert.have].filter(Boolean).join(" ");

function standsFor(alert) {
  const parts = [];
  if (isOver(alert)) parts.push("it is over, and nobody has said that they saw it");
  else if (alert.at_ms) parts.push(`for ${words.span((Date.now() - alert.at_ms) / 1000)}`);
  if (isSeen(alert)) parts.push("seen");
  if (alert.quiet_until) parts.push(`quiet until ${words.moment(new Date(alert.quiet_until))}`);
  return parts.join(", ");
}
