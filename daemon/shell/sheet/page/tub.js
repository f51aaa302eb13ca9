// One tub: its strip over hours, days or its whole batch with phases and alerts marked, its acts,
// and the record's time line.

import { Acts } from "./acts.js";
import { Alerts } from "./alerts.js";
import { h, say } from "./dom.js";
import { Paper } from "./paper.js";
import { allAlerts, because } from "./front.js";
import * as words from "./words.js";

const LANE = 88;
const RECORD_EACH_MS = 20000;
const SHOWN_FIRST = 40;

/** "phase casing begins", "phase fruiting -> casing, by its file": the phase it goes to. */
const PHASE = /^phase (?:\S+ -> )?([^\s,:]+)/;

export class TubPage {
  constructor(parts, id) {
    this.parts = parts;
    this.id = id;
    this.alerts = new Alerts(parts);
    this.phase = h("span", { class: "phase" });
    this.batch = h("span", { class: "batch" });
    this.note = h("p", { class: "note" });
    this.main = h("p", { class: "because" });
    this.paper = new Paper({ height: LANE, past: parts.past });
    this.acts = new Acts(parts.act, parts.may);
    this.waterHead = h("h2", { hidden: true }, "water");
    this.water = h("ul", { class: "water", hidden: true });
    this.record = h("ol", { class: "record" });
    this.all = h("button", { type: "button", onclick: () => this.fill(true) }, "all of it");
    this.paperNode = h("div", {
      class: "strips",
      tabindex: "0",
      role: "group",
      "aria-label": "the strip; plus and minus make it closer and wider, arrows go through time",
    });
    parts.axis.keys(this.paperNode);
    parts.axis.draggable(this.paperNode);
    parts.axis.hovers(this.paperNode, (at, drawing) =>
      drawing.closest("[data-tub]") ? this.paper.readAt(at) : "",
    );
    this.node = h(
      "div",
      { class: "one" },
      h("p", { class: "back" }, h("a", { href: "#" }, "all tubs")),
      h("header", {}, h("h2", { id: "tub-name" }, id), " ", this.phase, " ", this.batch),
      this.alerts.node,
      parts.axis.tools,
      this.paperNode,
      this.main,
      this.note,
      h(
        "details",
        { class: "others", open: true },
        h("summary", {}, "why, output by output"),
        this.paper.whyNode,
      ),
      this.paper.details,
      this.acts.node,
      this.waterHead,
      this.water,
      h("h2", {}, "the record"),
      this.record,
      h("p", {}, this.all),
    );
    this.paperNode.append(
      parts.axis.node,
      h("section", { class: "tub", "data-tub": id }, this.paper.node),
    );
    this.recordAt = 0;
  }

  chambers() {
    return this.tub ? [this.tub.chamber] : [];
  }

  update(state) {
    const tub = state.tubs.find((one) => one.id === this.id);
    if (!tub) {
      say(this.note, "This tub is no longer in the configuration.");
      return;
    }
    const chamber = state.chambers.find((air) => air.id === tub.chamber);
    if (!this.tub) this.addActs(tub);
    else if (this.tub.phase !== tub.phase || this.tub.batch !== tub.batch) this.recordAt = 0;
    if (this.tub && this.tub.phase !== tub.phase) this.acts.setPhases?.(tub);
    this.tub = tub;
    this.chamber = chamber;
    say(this.phase, words.phaseWords(tub));
    say(this.batch, tub.batch ? `batch ${tub.batch}, profile ${tub.profile}` : "");
    this.alerts.update(
      allAlerts(state).filter(
        (a) => a.place === tub.id || a.place === tub.chamber || a.place === "site",
      ),
    );
    const led =
      chamber && chamber.leader && chamber.leader !== tub.id
        ? `${chamber.leader} leads this air.`
        : "";
    say(this.note, [led, tub.note ? tub.note + "." : ""].filter(Boolean).join(" "));
    this.note.hidden = !this.note.textContent;
    const hand = chamber?.hands.find((one) => one.kind === "attend");
    this.acts.attended(hand);
    this.paper.update(chamber, tub, this.parts.ageOf(chamber?.id));
    say(this.main, because(chamber, hand));
    if (Date.now() - this.recordAt > RECORD_EACH_MS) this.ask();
  }

  addActs(tub) {
    this.acts.attend(tub.id);
    this.acts.harvest(tub.id);
    this.acts.observation(tub.id);
    this.acts.water(tub.id);
    this.acts.phase(tub.id, tub.phases ?? [], tub.phase);
  }

  async ask() {
    this.recordAt = Date.now();
    const tub = this.tub;
    this.parts.get("water/" + encodeURIComponent(tub.id)).then(
      (book) => this.tellWater(book),
      () => {},
    );
    if (!tub.batch) return;
    try {
      this.rows = (await this.parts.get("batch/" + encodeURIComponent(tub.batch))).rows;
    } catch {
      this.rows = [];
    }
    this.fill(false);
    this.mark();
    this.askAlerts();
  }

  /** What was wrong with this tub or its air, as far back as the batch goes. */
  async askAlerts() {
    const days = Math.ceil((this.parts.now() - (this.parts.axis.began ?? 0)) / 86400000);
    try {
      const { rows } = await this.parts.get("alert_history", { days: Math.min(3650, days) });
      const places = [this.tub.id, this.tub.chamber];
      this.raised = rows.filter((row) => row.what === "raised" && places.includes(row.place));
    } catch {
      this.raised = []; // they are missing on the axis, and stand in the record
    }
    this.mark();
  }

  tellWater(book) {
    const own = (book.casings ?? []).filter((casing) => casing.tub === this.id);
    const lines = [...own, ...(book.tanks ?? []), book.day ?? {}]
      .map((one) => one.text)
      .filter(Boolean);
    this.water.replaceChildren(...lines.map((line) => h("li", {}, words.sentence(line))));
    this.waterHead.hidden = this.water.hidden = lines.length === 0;
  }

  mark() {
    const begun = this.rows.find((row) => row.at);
    const marks = [];
    for (const row of this.rows) {
      if (!row.at) continue;
      const at = Date.parse(row.at);
      if (row.kind === "phase") {
        marks.push({ at, kind: "phase", text: row.text, short: row.text.match(PHASE)?.[1] ?? "" });
      }
    }
    for (const row of this.raised ?? []) {
      marks.push({ at: Date.parse(row.at), kind: "alert", text: row.text, short: "" });
    }
    this.parts.axis.marks = marks;
    if (begun && !this.parts.axis.began) this.parts.axis.build(Date.parse(begun.at));
  }

  fill(whole) {
    this.whole ||= whole;
    const rows = [...(this.rows ?? [])].reverse();
    const shown = this.whole ? rows : rows.slice(0, SHOWN_FIRST);
    this.record.replaceChildren(
      ...shown.map((row) =>
        h(
          "li",
          { value: row.id },
          h(
            "time",
            { datetime: row.at ?? "" },
            row.at ? words.moment(new Date(row.at)) : "time not known",
          ),
          " ",
          h("span", { class: "who" }, row.who),
          " ",
          words.sentence(row.text),
          row.corrects ? ` (corrects ${row.corrects})` : "",
        ),
      ),
    );
    this.all.hidden = shown.length === rows.length;
  }

  draw(axis) {
    const x = axis.draw();
    this.paper.draw(x, this.tub?.began_ms);
  }
}
