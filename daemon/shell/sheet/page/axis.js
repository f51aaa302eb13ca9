// The one time axis that all strips share: what it shows, and how a reader moves it: words, keys,
// and a drag across the paper. Threading: the page's. Calls `changed` when another time is to be
// shown.

import { h, svg, say } from "./dom.js";
import * as strip from "./strip.js";
import * as words from "./words.js";

const HOUR = 3600000;
const SPAN_LEAST = 5 * 60000;
const SPAN_MOST = 400 * 24 * HOUR;
const AHEAD = 0.02; // of the paper is still white, before the pens

export class Axis {
  constructor(changed) {
    this.changed = changed;
    this.length = 24 * HOUR;
    this.end = null; // null: the pens write at its end
    this.marks = [];
    this.drawing = svg({ "aria-hidden": "true", class: "axis" });
    this.shown = h("p", { class: "shown", "aria-live": "polite" });
    this.buttons = h("div", { class: "words" });
    this.node = h(
      "div",
      { class: "ruler" },
      h("div", { class: "row" }, h("p", { class: "reading" }), this.drawing),
    );
    this.spans = [
      ["6 h", 6 * HOUR],
      ["24 h", 24 * HOUR],
      ["7 days", 7 * 24 * HOUR],
    ];
    this.tools = h(
      "div",
      { class: "window", role: "group", "aria-label": "the time that is shown" },
      this.buttons,
    );
    this.hair = h("div", { class: "hair", hidden: true });
    this.readout = h("p", { class: "readout" });
    this.node.append(this.shown, this.readout);
    this.keys(this.tools);
  }

  /** A hair at a pointer's moment, and what `read(moment, node)` says of it, on the ruler. */
  hovers(node, read) {
    const show = (event) => {
      const drawing = event.target.closest?.("svg");
      const box = this.drawing.getBoundingClientRect();
      const px = event.clientX - box.left;
      const text = drawing && px >= strip.GUTTER ? read(this.x.invert(px).getTime(), drawing) : "";
      this.hair.hidden = !text;
      this.shown.hidden = Boolean(text);
      say(this.readout, text);
      if (!text) return;
      if (this.hair.parentNode !== node) node.append(this.hair);
      this.hair.style.left = `${box.left - node.getBoundingClientRect().left + px}px`;
    };
    node.addEventListener("pointermove", show);
    node.addEventListener("pointerdown", show);
    node.addEventListener("pointerleave", () => {
      this.hair.hidden = true;
      this.shown.hidden = false;
      say(this.readout, "");
    });
  }

  /**
   * Keys act where the focus is on the paper or its words, so that they take none from a reader.
   */
  keys(node) {
    node.addEventListener("keydown", (event) => this.key(event));
  }

  reset(id) {
    this.id = id;
    this.marks = [];
    this.length = 24 * HOUR;
    this.end = null;
    this.build(null);
  }

  /** `began`: the batch's first moment, which gives the word that shows all of it. */
  build(began) {
    this.began = began;
    const spans = [...this.spans];
    if (began) spans.push(["the batch", "batch"]);
    const word = (text, label, onclick, pressed) =>
      h(
        "button",
        {
          type: "button",
          onclick,
          "aria-label": label,
          "aria-pressed": pressed,
        },
        text,
      );
    this.spanButtons = spans.map(([text, length]) => {
      const button = word(text, `show ${text}`, () => this.show(length, null), "false");
      button.dataset.length = length;
      return button;
    });
    this.buttons.replaceChildren(
      ...this.spanButtons,
      word("\u2190", "earlier", () => this.pan(-0.5)),
      word("\u2192", "later", () => this.pan(0.5)),
      word("+", "closer", () => this.zoom(0.5)),
      word("\u2212", "wider", () => this.zoom(2)),
    );
    this.press();
  }

  press() {
    for (const button of this.spanButtons ?? []) {
      const length = button.dataset.length;
      const on =
        this.end === null &&
        (length === "batch" ? this.whole : !this.whole && Number(length) === this.length);
      button.setAttribute("aria-pressed", String(on));
    }
  }

  get live() {
    return this.end === null;
  }

  show(length, end) {
    this.whole = length === "batch";
    this.length = this.whole
      ? Math.max(HOUR, this.nowMs - this.began) * 1.02
      : Math.min(SPAN_MOST, Math.max(SPAN_LEAST, length));
    this.end = end === null || end >= this.nowMs ? null : end;
    this.press();
    this.changed();
  }

  pan(share) {
    const end = (this.end ?? this.nowMs) + share * this.length;
    this.show(this.length, end);
  }

  zoom(by) {
    const middle = this.live ? this.nowMs : this.end - this.length / 2;
    const length = this.length * by;
    this.show(length, this.live ? null : middle + length / 2);
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (/^(input|textarea|select)$/i.test(event.target.tagName)) return;
    const keys = {
      "+": () => this.zoom(0.5),
      "=": () => this.zoom(0.5),
      "-": () => this.zoom(2),
      ArrowLeft: () => this.pan(-0.5),
      ArrowRight: () => this.pan(0.5),
      0: () => this.show(24 * HOUR, null),
    };
    const does = keys[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  }

  follow(nowMs) {
    this.nowMs = nowMs;
  }

  /** [from, to] in ms. */
  span(nowMs) {
    this.nowMs = nowMs;
    const to = this.end ?? nowMs + this.length * AHEAD;
    return [to - this.length, to];
  }

  width() {
    return Math.max(100, (this.drawing.clientWidth || 360) - strip.GUTTER);
  }

  /** Draws itself, and answers the scale for all strips. */
  draw() {
    const width = this.drawing.clientWidth || this.node.clientWidth || 360;
    const [from, to] = this.span(this.nowMs);
    const x = strip.scale(from, to, width);
    strip.axis(
      this.drawing,
      x,
      this.marks.filter((mark) => mark.at >= from && mark.at <= to),
    );
    const text = this.live
      ? `the last ${words.span(this.length / 1000)}`
      : `${words.moment(from)} to ${words.moment(to)}`;
    say(this.shown, text);
    this.x = x;
    return x;
  }

  /** A drag across `node` shows the time between its ends. */
  draggable(node) {
    let begun = null,
      veil = null;
    const at = (event) => event.clientX - this.drawing.getBoundingClientRect().left;
    const stop = () => {
      veil?.remove();
      begun = veil = null;
    };
    node.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || !event.target.closest("svg")) return;
      begun = at(event);
    });
    node.addEventListener("pointermove", (event) => {
      if (begun === null) return;
      const [a, b] = [begun, at(event)].sort((p, q) => p - q);
      if (b - a < 8) return;
      if (!veil) {
        veil = node.appendChild(h("div", { class: "veil" }));
        node.setPointerCapture(event.pointerId);
      }
      const left = this.drawing.getBoundingClientRect().left - node.getBoundingClientRect().left;
      veil.style.left = `${left + a}px`;
      veil.style.width = `${b - a}px`;
    });
    node.addEventListener("pointerup", (event) => {
      if (begun !== null && veil) {
        const x = this.draw();
        const [from, to] = [begun, at(event)]
          .sort((p, q) => p - q)
          .map((px) => Number(x.invert(Math.max(strip.GUTTER, px))));
        if (to - from >= SPAN_LEAST / 5) this.show(Math.max(SPAN_LEAST, to - from), to);
      }
      stop();
    });
    node.addEventListener("pointercancel", stop);
  }
}
