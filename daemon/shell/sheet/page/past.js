// The readings and runs of each air, as far back as the paper shows, and what has come since.
// Asks by the function it is given; draws nothing. Moments are ms since 1970.

const PX_A_POINT = 2;
const WRITTEN_WITHIN_MS = 70000;
const GAP_LEAST_MS = 150000;

/**
 * Widths the daemon's means are asked in: whole steps, so that lines do not wander between asks.
 */
const WIDTHS_S = [10, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400];

export function widthFor(from, to, px) {
  const wanted = ((to - from) / 1000) * (PX_A_POINT / px);
  return WIDTHS_S.find((w) => w >= wanted) ?? WIDTHS_S.at(-1);
}

/**
 * The first sensor that tells a quantity is the one that is drawn, unless another has more to
 * say.
 */
function longest(series) {
  const best = new Map();
  for (const one of series) {
    const before = best.get(one.quantity);
    if (!before || one.points.length > before.points.length) best.set(one.quantity, one);
  }
  return best;
}

export class Past {
  constructor(get) {
    this.get = get;
    this.turns = new Map(); // chamber -> the last load begun
    this.airs = new Map(); // chamber -> {from, to, every, quantities: Map, runs: []}
  }

  /**
   * Asks for a chamber's past between two moments, for a paper of `px`, in as many
   * answers as it takes. The last load
   * counts.
   */
  async load(chamber, from, to, px) {
    const turn = (this.turns.get(chamber) ?? 0) + 1;
    this.turns.set(chamber, turn);
    const every = widthFor(from, to, px);
    const air = { from, to, every, quantities: new Map(), runs: [] };
    const begin = Math.floor(from / 1000 / every) * every * 1000;
    let next = new Date(begin).toISOString();
    const end = new Date(to).toISOString();
    while (next && next < end) {
      const answer = await this.get("history", { chamber, from: next, to: end, every_s: every });
      if (turn !== this.turns.get(chamber)) return;
      for (const [quantity, series] of longest(answer.series)) {
        const points = air.quantities.get(quantity) ?? [];
        for (const [at, low, mean = low, high = low] of series.points) {
          points.push({ at: Date.parse(at), low, mean, high });
        }
        air.quantities.set(quantity, points);
      }
      for (const run of answer.runs) {
        const at = Date.parse(run.began);
        air.runs.push({ id: run.id, from: at, to: at + run.lasted_s * 1000, now: run.now });
      }
      next = answer.next;
    }
    this.keepNewest(air, this.airs.get(chamber), to);
    this.airs.set(chamber, air);
  }

  /** What was heard live and is not yet in the daemon's history, which is written in groups. */
  keepNewest(air, before, to) {
    if (!before) return;
    const since = to - WRITTEN_WITHIN_MS;
    for (const [quantity, points] of before.quantities) {
      const known = air.quantities.get(quantity) ?? [];
      const last = known.at(-1)?.at ?? -Infinity;
      air.quantities.set(quantity, [
        ...known,
        ...points.filter((p) => p.at > last && p.at > since && p.at <= to),
      ]);
    }
    for (const run of before.runs) {
      const known = air.runs.some(
        (one) => one.id === run.id && Math.abs(one.from - run.from) < 3000,
      );
      if (run.to > since && run.from <= to && !known) air.runs.push(run);
    }
  }

  points(chamber, quantity) {
    return this.airs.get(chamber)?.quantities.get(quantity) ?? [];
  }

  runs(chamber, id) {
    return (this.airs.get(chamber)?.runs ?? []).filter((run) => run.id === id);
  }

  gap(chamber) {
    return Math.max(GAP_LEAST_MS, 2.5 * 1000 * (this.airs.get(chamber)?.every ?? 60));
  }

  /** Takes in what is known of an air at `now` (ms): the newest reading of each quantity. */
  hear(chamber, now) {
    const air = this.airs.get(chamber.id);
    if (!air) return;
    for (const q of chamber.air) {
      if (q.value === null || !q.usable) continue;
      const points = air.quantities.get(q.quantity) ?? [];
      air.quantities.set(q.quantity, points);
      const last = points.at(-1);
      if (last && now <= last.at) continue;
      points.push({ at: now, low: q.value, mean: q.value, high: q.value });
    }
    for (const output of chamber.actuators) this.hearOutput(air, output, now);
  }

  hearOutput(air, output, now) {
    const open = air.runs.findLast((run) => run.id === output.id && run.now);
    if (open) open.to = Math.max(open.from + 100, now);
    if (output.level_pct > 0 && !open)
      air.runs.push({ id: output.id, from: now, to: now, now: true });
    if (!(output.level_pct > 0) && open) open.now = false;
  }
}
