// All tubs under one another on one time axis: what is wrong, what is due, a strip a tub.

import { Acts } from "./acts.js";
import { Alerts } from "./alerts.js";
import { h, say } from "./dom.js";
import { Paper } from "./paper.js";
import * as words from "./words.js";

const LANE = 54;
const DUE_EACH_MS = 60000;

/** Heading, sentence and acts of one tub; its paper only where it leads its air. */
class Strip {
  constructor(parts, tub) {
    this.parts = parts;
    this.phase = h("span", { class: "phase" });
    this.batch = h("span", { class: "batch" });
    this.stands = h("span", { class: "batch" });
    this.note = h("p", { class: "note" });
    this.main = h("p", { class: "because" });
    this.paper = new Paper({ height: LANE, past: parts.past });
    this.acts = new Acts(parts.act, parts.may);
    this.acts.attend(tub.id);
    this.acts.harvest(tub.id);
    this.acts.observation(tub.id);
    this.others = h(
      "details",
      { class: "others" },
      h("summary", {}, "why, output by output"),
      this.paper.whyNode,
    );
    this.node = h(
      "section",
      { class: "tub", "aria-labelledby": `tub-${tub.id}`, "data-tub": tub.id },
      h(
        "header",
        {},
        h(
          "h2",
          { id: `tub-${tub.id}` },
          h("a", { href: `#${encodeURIComponent(tub.id)}` }, tub.id),
        ),
        " ",
        this.phase,
        " ",
        this.batch,
        " ",
        this.stands,
      ),
      this.paper.node,
      this.main,
      this.note,
      this.others,
      this.paper.details,
      this.acts.node,
    );
  }

  update(tub, chamber) {
    say(this.phase, words.phaseWords(tub));
    say(this.batch, tub.batch ? `batch ${tub.batch}` : "");
    const shares = chamber && chamber.leader && chamber.leader !== tub.id;
    this.drawn = !shares;
    say(this.stands, shares ? `in ${chamber.id}, on the strip of ${chamber.leader}` : "");
    const dark =
      chamber && chamber.actuators.length === 0 && chamber.air.every((q) => q.value === null)
        ? "Nothing has been heard of this air yet."
        : "";
    say(
      this.note,
      [
        dark,
        tub.note ? tub.note + "." : "",
        tub.phase
          ? ""
          : `Its outputs stay safe until its phase is said (its file says ${tub.file_phase}).`,
      ]
        .filter(Boolean)
        .join(" "),
    );
    this.note.hidden = !this.note.textContent;
    const hand = chamber?.hands.find((one) => one.kind === "attend");
    this.acts.attended(hand);
    for (const node of [this.paper.node, this.main, this.others, this.paper.details])
      node.hidden = !this.drawn;
    if (!this.drawn) return;
    this.paper.update(chamber, tub, this.parts.ageOf(chamber?.id));
    say(this.main, because(chamber, hand));
    this.main.hidden = !this.main.textContent;
  }

  draw(x, tub) {
    if (this.drawn) this.paper.draw(x, tub.began_ms);
  }
}

/** The sentence that matters most: hands, else what runs, else what is wrong, else the first. */
export function because(chamber, hand) {
  if (hand)
    return "Hands are in the tub: its outputs rest and its alerts are quiet until they are out.";
  const outputs = chamber?.actuators ?? [];
  const one =
    outputs.find((o) => o.health !== "ready") ?? outputs.find((o) => o.level_pct > 0) ?? outputs[0];
  return one ? `${one.id}: ${words.sentence(one.why)}` : "";
}

/** Those that stand, and those that are off, which may stand or not. */
export function allAlerts(state) {
  const off = state.off ?? [];
  const known = new Set(off.map((one) => `${one.place}.${one.cause}`));
  return [...state.alerts.filter((one) => !known.has(`${one.place}.${one.cause}`)), ...off];
}

export class Front {
  constructor(parts) {
    this.parts = parts;
    this.id = "";
    this.strips = new Map();
    this.alerts = new Alerts(parts);
    this.due = h("ul", { class: "due" });
    this.dueHead = h("h2", { id: "due-head" }, "due today");
    this.dueNode = h(
      "section",
      { class: "due-today", "aria-labelledby": "due-head", hidden: true },
      this.dueHead,
      this.due,
    );
    this.paperNode = h("div", {
      class: "strips",
      tabindex: "0",
      role: "group",
      "aria-label": "the strips; plus and minus make them closer and wider, arrows go through time",
    });
    parts.axis.keys(this.paperNode);
    parts.axis.draggable(this.paperNode);
    parts.axis.hovers(this.paperNode, (at, drawing) => {
      const tub = drawing.closest("[data-tub]")?.dataset.tub;
      return tub ? this.strips.get(tub).paper.readAt(at) : "";
    });
    this.paperNode.append(parts.axis.node);
    this.node = h(
      "div",
      { class: "front" },
      this.alerts.node,
      this.dueNode,
      parts.axis.tools,
      this.paperNode,
    );
    this.dueAt = 0;
  }

  chambers() {
    return [
      ...new Set(
        [...this.strips].filter(([, s]) => s.drawn).map(([id]) => this.byId.get(id).chamber),
      ),
    ];
  }

  update(state) {
    this.alerts.update(allAlerts(state));
    this.byId = new Map(state.tubs.map((tub) => [tub.id, tub]));
    const airs = new Map(state.chambers.map((air) => [air.id, air]));
    const leads = (tub) => Number(airs.get(tub.chamber)?.leader !== tub.id);
    const order = (a, b) =>
      a.chamber.localeCompare(b.chamber, undefined, { numeric: true }) ||
      leads(a) - leads(b) ||
      a.id.localeCompare(b.id, undefined, { numeric: true });
    for (const tub of [...state.tubs].sort(order)) {
      let one = this.strips.get(tub.id);
      if (!one) {
        one = new Strip(this.parts, tub);
        this.strips.set(tub.id, one);
        this.paperNode.append(one.node);
      }
      one.update(tub, airs.get(tub.chamber));
    }
    for (const [id, one] of this.strips) {
      if (this.byId.has(id)) continue;
      one.node.remove();
      this.strips.delete(id);
    }
    if (Date.now() - this.dueAt > DUE_EACH_MS) this.askDue();
  }

  async askDue() {
    this.dueAt = Date.now();
    let rows;
    try {
      const today = await this.parts.get("today");
      // What is off has a place of its own on this page.
      rows = (today.tasks ?? []).filter((row) => row.what !== "off");
    } catch {
      return; // a daemon that cannot say what is due says nothing of it here
    }
    this.due.replaceChildren(
      ...rows.map((row) =>
        h("li", {}, row.late ? h("b", {}, "late: ") : null, words.sentence(row.text)),
      ),
    );
    this.dueNode.hidden = rows.length === 0;
  }

  draw(axis) {
    const x = axis.draw();
    for (const [id, one] of this.strips) one.draw(x, this.byId.get(id));
  }
}
