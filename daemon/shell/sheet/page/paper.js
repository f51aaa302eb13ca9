// One tub's strip: heading, lanes with their readings, ticks of its outputs, and why. Built once
// for a tub and then brought up to date, so that focus and open forms stay.

import { h, say, svg, freshId } from "./dom.js";
import * as strip from "./strip.js";
import * as words from "./words.js";

const SHOWN = ["humidity", "air_temperature", "substrate_temperature", "co2"];
const NAMES = {
  humidity: "humidity",
  air_temperature: "air",
  substrate_temperature: "substrate",
  co2: "CO2",
};
const FRESH_S = 45;

const UNITS = { humidity: "%", air_temperature: "C", substrate_temperature: "C", co2: "ppm" };

/**
 * What an air has a lane for, in the order on the paper: what is kept or heard, and what was
 * heard.
 */
function lanesOf(chamber, past) {
  const lanes = [];
  for (const quantity of SHOWN) {
    const q = chamber?.air.find((one) => one.quantity === quantity);
    if (q) lanes.push(q);
    else if (chamber && past.points(chamber.id, quantity).length) {
      lanes.push({
        quantity,
        unit: UNITS[quantity],
        value: null,
        usable: false,
        keep: null,
        warn: null,
      });
    }
  }
  return lanes;
}

export class Paper {
  constructor(options) {
    this.height = options.height;
    this.past = options.past;
    this.uid = freshId("paper");
    this.lanes = new Map();
    this.outputs = new Map();
    this.node = h("div", { class: "paper" });
    this.lanesNode = h("div", { class: "lanes" });
    this.eventsNode = h("div", { class: "events" });
    this.whyNode = h("ul", { class: "why", "aria-label": "why each output does what it does" });
    this.table = h("table");
    this.details = h(
      "details",
      { class: "figures", ontoggle: () => this.fillTable() },
      h("summary", {}, "these readings as a table"),
      this.table,
    );
    this.node.append(this.lanesNode, this.eventsNode);
  }

  /** Takes in a chamber as it stands now; `tub` is whose phase it keeps. */
  update(chamber, tub, ageOf) {
    this.chamber = chamber;
    this.tub = tub;
    this.shown = lanesOf(chamber, this.past);
    const wanted = this.shown.map((q) => q.quantity);
    if (wanted.join() !== [...this.lanes.keys()].join()) this.buildLanes(wanted);
    const outputs = (chamber?.actuators ?? []).map((output) => output.id);
    if (outputs.join() !== [...this.outputs.keys()].join()) this.buildOutputs(outputs);
    for (const q of this.shown) this.read(this.lanes.get(q.quantity), q, ageOf);
    for (const output of chamber?.actuators ?? []) this.tell(output);
  }

  buildLanes(wanted) {
    this.lanes.clear();
    this.lanesNode.textContent = "";
    for (const quantity of wanted) {
      const drawing = svg({ "aria-hidden": "true" });
      const reading = h("p", { class: "reading ink-" + strip.INKS[quantity] });
      const parts = {
        name: h("span", { class: "name" }, NAMES[quantity]),
        value: h("b"),
        stands: h("span"),
        band: h("span", { class: "band" }),
        age: h("span", { class: "age" }),
      };
      reading.append(
        parts.name,
        " ",
        parts.value,
        " ",
        parts.stands,
        " ",
        parts.band,
        " ",
        parts.age,
      );
      this.lanesNode.append(h("div", { class: "row" }, reading, drawing));
      this.lanes.set(quantity, { drawing, reading, ...parts });
    }
  }

  read(lane, q, ageOf) {
    const at = words.standing(q);
    say(
      lane.value,
      q.value === null ? "" : (q.at_least ? "at least " : "") + words.amount(q.value, q.unit),
    );
    const leaves = q.leaves_in_s ? `, leaves the band in ${words.span(q.leaves_in_s)}` : "";
    say(lane.stands, at.word + leaves);
    lane.stands.className = "stands " + at.kind;
    const band = words.bandWords(q.keep, q.unit);
    say(lane.band, band);
    const age = ageOf(q);
    say(lane.age, age === null ? "" : age < FRESH_S ? "now" : words.span(age) + " ago");
  }

  buildOutputs(ids) {
    this.outputs.clear();
    this.eventsNode.textContent = "";
    this.whyNode.textContent = "";
    for (const id of ids) {
      const drawing = svg({ "aria-hidden": "true" });
      const now = h("p", { class: "reading" });
      this.eventsNode.append(h("div", { class: "row event" }, now, drawing));
      const why = h("span");
      this.whyNode.append(h("li", {}, h("b", {}, id), " ", why));
      this.outputs.set(id, { drawing, now, why });
    }
  }

  tell(output) {
    const row = this.outputs.get(output.id);
    const state =
      output.level_pct > 0
        ? "runs" + (output.level_pct < 100 ? ` at ${output.level_pct} %` : "")
        : "rests";
    const wrong = output.health !== "ready" ? `, ${output.health}` : "";
    say(row.now, `${output.id} ${state}${wrong}`);
    row.now.classList.toggle("runs", output.level_pct > 0);
    say(row.why, words.sentence(output.why));
  }

  /** Draws on a paper of `width` px from `x.domain()`; answers nothing. */
  draw(x, keepFrom) {
    if (!this.chamber) return;
    for (const q of this.shown) {
      const lane = this.lanes.get(q.quantity);
      const [from, to] = x.domain().map(Number);
      const points = this.past.points(this.chamber.id, q.quantity);
      const gap = this.past.gap(this.chamber.id);
      strip.lane(
        lane.drawing,
        x,
        {
          quantity: q.quantity,
          unit: q.unit,
          keep: q.keep,
          warn: q.warn,
          keepFrom,
          points: points.filter((p) => p.at >= from - gap && p.at <= to + gap),
          gap_ms: gap,
        },
        this.height,
        `${this.uid}-${q.quantity}`,
      );
    }
    for (const [id, row] of this.outputs) {
      strip.ticks(row.drawing, x, { id, runs: this.past.runs(this.chamber.id, id) });
    }
    this.x = x;
    if (this.details.open) this.fillTable();
  }

  /** "14:30 humidity 86.2 %, air 16.4 C": the reading nearest to a moment, of each lane. */
  readAt(at) {
    const near = (points) => {
      const i = d3.bisector((p) => p.at).left(points, at);
      const [a, b] = [points[i - 1], points[i]];
      const best = !a || (b && b.at - at < at - a.at) ? b : a;
      return best && Math.abs(best.at - at) <= this.past.gap(this.chamber.id) ? best : null;
    };
    const told = [];
    for (const q of this.shown) {
      const point = near(this.past.points(this.chamber.id, q.quantity));
      if (point) told.push(`${NAMES[q.quantity]} ${words.amount(point.mean, q.unit)}`);
    }
    return `${words.moment(at)}  ${told.join(", ") || "nothing was heard"}`;
  }

  /** The chart's values as text: two dozen times of what is shown. */
  fillTable() {
    if (!this.details.open || !this.x) return;
    const [from, to] = this.x.domain().map(Number);
    const shown = this.shown;
    const step = (to - from) / 24;
    const rows = [];
    for (let at = from; at < to; at += step) {
      const cells = shown.map((q) => {
        const inside = this.past
          .points(this.chamber.id, q.quantity)
          .filter((p) => p.at >= at && p.at < at + step);
        if (!inside.length) return "-";
        const low = Math.min(...inside.map((p) => p.low)),
          high = Math.max(...inside.map((p) => p.high));
        const [a, b] = [words.figure(low, q.unit), words.figure(high, q.unit)];
        return a === b ? a : `${a} to ${b}`;
      });
      if (cells.every((cell) => cell === "-")) continue;
      rows.push(
        h(
          "tr",
          {},
          h("th", { scope: "row" }, words.moment(at)),
          ...cells.map((cell) => h("td", {}, cell)),
        ),
      );
    }
    this.table.replaceChildren(
      h("caption", {}, `${this.tub?.id ?? this.chamber.id}: least to most`),
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          h("th", { scope: "col" }, "from"),
          ...shown.map((q) =>
            h("th", { scope: "col" }, `${NAMES[q.quantity]}, ${words.shownUnit(q.unit)}`),
          ),
        ),
      ),
      h("tbody", {}, ...rows),
    );
  }
}
