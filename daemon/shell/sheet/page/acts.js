// What a grower tells the daemon about a tub: hands in it, a harvest, a note, water, its phase.
// Each word opens a line of its own below; the second touch tells the daemon.

import { h, announce, freshId } from "./dom.js";
import * as words from "./words.js";

const ATTEND = [
  ["10 min", "10m"],
  ["20 min", "20m"],
  ["45 min", "45m"],
  ["2 h", "2h"],
];

/** A word that opens its line. Only one line of a group is open. */
export class Acts {
  constructor(act, may) {
    this.act = act;
    this.may = may;
    this.node = h("div", { class: "acts" });
    this.words = h("div", { class: "words" });
    this.node.append(this.words);
    this.open = null;
  }

  add(word, line) {
    const id = freshId("line");
    line.id = id;
    line.hidden = true;
    line.classList.add("line");
    const button = h(
      "button",
      {
        type: "button",
        "aria-expanded": "false",
        "aria-controls": id,
        disabled: !this.may,
        onclick: () => this.show(this.open === line ? null : line),
      },
      word,
    );
    line.button = button;
    line.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      this.show(null);
      button.focus();
    });
    this.words.append(button);
    this.node.append(line);
    return button;
  }

  show(line) {
    for (const one of this.node.querySelectorAll(".line")) {
      one.hidden = one !== line;
      one.button.setAttribute("aria-expanded", String(one === line));
    }
    this.open = line;
    line?.querySelector("input, select, textarea, button")?.focus();
  }

  async tell(what, args, line) {
    const fields = [...(line?.querySelectorAll("button, input, select, textarea") ?? [])];
    for (const field of fields) field.disabled = true;
    try {
      const done = await this.act(what, args);
      announce(words.sentence(done.text ?? "Done."));
      line?.reset?.();
      const back = line?.button;
      if (line) this.show(null);
      back?.focus();
      return true;
    } catch (error) {
      announce(error.message, true);
      return false;
    } finally {
      for (const field of fields) field.disabled = false;
    }
  }

  attend(tub) {
    const line = h(
      "form",
      { onsubmit: (event) => event.preventDefault() },
      h("p", { class: "lead" }, "Its outputs rest and its alerts are quiet for "),
    );
    for (const [word, time] of ATTEND) {
      line.append(
        h(
          "button",
          {
            type: "button",
            onclick: () => this.tell("attend", { tub, for: time }, line),
          },
          word,
        ),
        " ",
      );
    }
    this.attendButton = this.add("hands in the tub", line);
    this.endButton = h(
      "button",
      {
        type: "button",
        hidden: true,
        disabled: !this.may,
        onclick: () => this.tell("attend", { tub, for: "end" }),
      },
      "hands are out",
    );
    this.words.append(this.endButton);
  }

  /** Shows one of the two words, by whether hands are in the tub. */
  attended(hand) {
    this.attendButton.hidden = Boolean(hand);
    this.endButton.hidden = !hand;
    if (hand && this.open === this.attendButton) this.show(null);
  }

  form(word, fields, submit, sending) {
    const line = h(
      "form",
      {
        onsubmit: (event) => {
          event.preventDefault();
          sending(new FormData(line), line);
        },
      },
      ...fields,
      h("button", { type: "submit" }, submit),
    );
    this.add(word, line);
    return line;
  }

  field(label, attributes) {
    const id = freshId("field");
    const { tag = "input", ...rest } = attributes;
    return h(
      "p",
      {},
      h("label", { for: id }, label),
      " ",
      h(tag, { id, autocomplete: "off", ...rest }),
    );
  }

  harvest(tub) {
    this.form(
      "picked",
      [
        this.field("grams picked", {
          name: "grams",
          type: "number",
          inputmode: "decimal",
          min: "0.1",
          max: "100000",
          step: "any",
          required: true,
        }),
        this.field("how many, if you counted", {
          name: "count",
          type: "number",
          inputmode: "numeric",
          min: "1",
          max: "100000",
        }),
      ],
      "enter the harvest",
      (data, line) => {
        const args = { tub, grams: Number(data.get("grams")) };
        if (data.get("count")) args.count = Number(data.get("count"));
        this.tell("harvest", args, line);
      },
    );
  }

  observation(tub) {
    this.form(
      "note",
      [
        this.field("what you saw", {
          name: "text",
          tag: "textarea",
          rows: "2",
          maxlength: "500",
          required: true,
        }),
      ],
      "enter the note",
      (data, line) => this.tell("note", { tub, text: data.get("text") }, line),
    );
  }

  water(tub) {
    this.form(
      "watered",
      [
        this.field("millilitres given", {
          name: "ml",
          type: "number",
          inputmode: "decimal",
          min: "1",
          max: "20000",
          step: "any",
          required: true,
        }),
      ],
      "enter the water",
      (data, line) => this.tell("water", { tub, millilitres: Number(data.get("ml")) }, line),
    );
  }

  /** Asks again before the phase changes: its bands and clock follow at once. */
  phase(tub, phases, current) {
    const select = h(
      "select",
      { name: "phase", required: true },
      h("option", { value: "" }, "choose"),
      ...phases
        .filter((name) => name !== current)
        .map((name) => h("option", { value: name }, name)),
    );
    const id = freshId("field");
    select.id = id;
    const asked = h("p", { class: "asked", hidden: true });
    const yes = h("button", { type: "submit" }, "go on");
    select.addEventListener("change", () => {
      asked.hidden = true;
      yes.textContent = "go on";
    });
    const line = h(
      "form",
      {
        onsubmit: async (event) => {
          event.preventDefault();
          const data = new FormData(line);
          const to = data.get("phase");
          if (asked.hidden) {
            asked.textContent =
              `${tub} goes from ${current || "no phase"} to ${to} now: bands, warnings ` +
              "and clock follow at once. Is that so?";
            asked.hidden = false;
            yes.textContent = `yes, ${tub} is in ${to}`;
            return;
          }
          const args = { tub, phase: to };
          if (data.get("note")) args.note = data.get("note");
          if (await this.tell("phase", args, line)) {
            asked.hidden = true;
            yes.textContent = "go on";
          }
        },
      },
      h("p", {}, h("label", { for: id }, "new phase"), " ", select),
      this.field("note, if any", { name: "note", maxlength: "500" }),
      asked,
      yes,
    );
    this.add("change phase", line);
  }
}
