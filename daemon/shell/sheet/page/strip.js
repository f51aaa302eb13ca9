// Draws the paper: one time axis, and for each quantity a lane with its band ruled behind the
// trace. Draws what it is given; asks nobody, keeps nothing. D3 (chart.js) is the global `d3`.

import * as words from "./words.js";

/** Places a lane has on the paper, in CSS pixels. */
export const GUTTER = 54;
const RIGHT = 16;
const MARGIN = 7;

/** Ink of each quantity; each lane is named beside it, so no ink is the only sign. */
export const INKS = {
  humidity: "blue",
  air_temperature: "red",
  substrate_temperature: "brown",
  co2: "green",
};

const STEPS_S = [
  300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 345600, 604800, 1209600,
];

/** The shared scale: `from` and `to` in ms, onto `width` px. */
export const scale = (from, to, width) =>
  d3
    .scaleTime()
    .domain([from, to])
    .range([GUTTER, Math.max(GUTTER + 50, width - RIGHT)]);

/** Whole local times about `px` apart. */
export function timeTicks(x, px = 62) {
  const [from, to] = x.domain().map(Number);
  const [left, right] = x.range();
  const wanted = ((to - from) / 1000) * (px / (right - left));
  const step = STEPS_S.find((s) => s >= wanted) ?? STEPS_S.at(-1);
  const ticks = [];
  const first = new Date(from);
  first.setHours(0, 0, 0, 0);
  if (step < 86400) {
    for (let at = first.getTime(); at <= to; at += step * 1000) if (at >= from) ticks.push(at);
  } else {
    const days = step / 86400;
    for (const at = first; at <= to; at.setDate(at.getDate() + days)) {
      if (at >= from) ticks.push(at.getTime());
    }
  }
  return { ticks, step };
}

function tickLabel(at, step) {
  const date = new Date(at);
  const midnight = date.getHours() === 0 && date.getMinutes() === 0;
  return step >= 86400 || midnight
    ? words.day(date).replace(/^(\S+) /, step > 86400 ? "" : "$1 ")
    : words.clock(date);
}

/** The axis, with what is marked on it: `marks` are {at, text, kind: phase | alert}. */
export function axis(svgNode, x, marks = []) {
  const svg = d3.select(svgNode);
  const [left, right] = x.range();
  const height = marks.length ? 46 : 26;
  svg.attr("viewBox", `0 0 ${right + RIGHT} ${height}`).attr("height", height);
  svg.selectAll("*").remove();
  const { ticks, step } = timeTicks(x);
  for (const at of ticks) {
    const px = x(at);
    svg.append("path").attr("class", "tick").attr("d", `M${px},${height}v-6`);
    if (px < left + 14 || px > right - 8) continue;
    svg
      .append("text")
      .attr("x", px)
      .attr("y", height - 9)
      .attr("text-anchor", "middle")
      .text(tickLabel(at, step));
  }
  let free = -Infinity;
  for (const mark of marks) {
    const px = x(mark.at);
    if (px < left || px > right) continue;
    svg
      .append("path")
      .attr("class", "mark " + mark.kind)
      .attr("d", mark.kind === "alert" ? `M${px - 4},14l4,-9l4,9z` : `M${px},2v${height - 2}`)
      .append("title")
      .text(`${words.moment(mark.at)}: ${mark.text}`);
    if (mark.kind !== "phase" || px < free) continue;
    const text = svg.append("text").attr("class", "phase").attr("y", 13).text(mark.short);
    const wide = mark.short.length * 6.4 + 8;
    const flip = px + wide > right;
    text.attr("x", flip ? px - 4 : px + 4).attr("text-anchor", flip ? "end" : "start");
    free = px + wide;
  }
}

/**
 * From the lowest to the highest that a lane shows: all readings, unless a few would flatten it.
 */
function domain(lane) {
  const values = [];
  for (const p of lane.points) if (p) values.push(p.low, p.high);
  values.sort(d3.ascending);
  let low = d3.quantile(values, 0.01) ?? Infinity;
  let high = d3.quantile(values, 0.99) ?? -Infinity;
  const ends = (words.meant(lane.keep, lane.unit) ?? []).filter((v) => v !== null);
  if (ends.length) {
    low = Math.min(low, ...ends);
    high = Math.max(high, ...ends);
  }
  const last = lane.points.at(-1);
  if (last) {
    low = Math.min(low, last.low);
    high = Math.max(high, last.high);
  }
  if (!(low <= high)) [low, high] = [0, 1];
  const least = { "%": 4, C: 2, ppm: 150 }[lane.unit] ?? 1;
  const room = Math.max(0, least - (high - low)) / 2;
  return [low - room, high + room];
}

/** Breaks the line where nothing was heard: `gap` ms without a reading. */
function broken(points, gap) {
  const out = [];
  let before = null;
  for (const p of points) {
    if (before !== null && p.at - before > gap) out.push(null);
    out.push(p);
    before = p.at;
  }
  return out;
}

function ruledBand(svg, x, y, lane, id) {
  if (!lane.keep) return;
  const [left, right] = x.range();
  const [bottom, top] = y.range();
  const from = Math.min(right, Math.max(left, x(lane.keepFrom ?? x.domain()[0])));
  const place = (v, none) => (v === null ? none : Math.max(top, Math.min(bottom, y(v))));
  const keep = words.meant(lane.keep, lane.unit);
  const lower = place(keep[0], bottom),
    upper = place(keep[1], top);
  const pattern = svg
    .append("defs")
    .append("pattern")
    .attr("id", id)
    .attr("width", 4)
    .attr("height", 3)
    .attr("patternUnits", "userSpaceOnUse");
  pattern.append("path").attr("class", "ruling").attr("d", "M0,1.5H4");
  svg
    .append("rect")
    .attr("class", "band")
    .attr("x", from)
    .attr("width", right + RIGHT - from)
    .attr("y", upper)
    .attr("height", Math.max(0, lower - upper))
    .attr("fill", `url(#${id})`);
  keep.forEach((edge) => {
    if (edge === null || y(edge) < top - 0.5 || y(edge) > bottom + 0.5) return;
    svg
      .append("path")
      .attr("class", "edge")
      .attr("d", `M${from},${y(edge)}H${right + RIGHT}`);
  });
  (lane.warn ?? []).forEach((edge) => {
    if (edge === null || y(edge) < top || y(edge) > bottom) return;
    svg
      .append("path")
      .attr("class", "warn")
      .attr("d", `M${from},${y(edge)}H${right + RIGHT}`);
  });
}

function figures(svg, y, lane) {
  const own = (words.meant(lane.keep, lane.unit) ?? []).filter((v) => v !== null);
  const [bottom, top] = y.range();
  const taken = [];
  const put = (value, kind) => {
    if (y(value) < top || y(value) > bottom) return;
    const at = Math.max(top + 8, Math.min(bottom, y(value) + 4)); // where it is written
    if (taken.some((other) => Math.abs(other - at) < 12)) return;
    taken.push(at);
    svg
      .append("text")
      .attr("class", kind)
      .attr("x", GUTTER - 6)
      .attr("y", at)
      .attr("text-anchor", "end")
      .text(words.limit(value, lane.unit));
  };
  for (const edge of own) put(edge, "own");
  const scaled = d3
    .scaleLinear()
    .domain(y.domain().map((v) => words.shown(v, lane.unit)))
    .range(y.range());
  for (const value of scaled.ticks(3)) put(y.invert(scaled(value)), "other");
}

/**
 * One lane. `lane`: {quantity, unit, points: [{at, low, mean, high}], keep, keepFrom, warn, gap_ms,
 * name}. Leaves the scale in data-low and data-high, so that what is drawn can be read back.
 */
export function lane(svgNode, x, one, height, id) {
  const svg = d3.select(svgNode);
  svg.selectAll("*").remove();
  const [left, right] = x.range();
  const y = d3
    .scaleLinear()
    .domain(domain(one))
    .range([height - MARGIN, MARGIN]);
  const [low, high] = y.domain();
  svg
    .attr("viewBox", `0 0 ${right + RIGHT} ${height}`)
    .attr("height", height)
    .attr("class", "lane ink-" + (INKS[one.quantity] ?? "blue"))
    .attr("data-quantity", one.quantity)
    .attr("data-low", low)
    .attr("data-high", high)
    .attr("data-bottom", height - MARGIN)
    .attr("data-top", MARGIN)
    .attr("data-from", Number(x.domain()[0]))
    .attr("data-to", Number(x.domain()[1]))
    .attr("data-left", left)
    .attr("data-right", right);
  const { ticks } = timeTicks(x);
  svg
    .append("path")
    .attr("class", "grid")
    .attr("d", ticks.map((at) => `M${x(at)},0V${height}`).join(""));
  svg
    .append("path")
    .attr("class", "grid")
    .attr(
      "d",
      d3
        .range(0, height, MARGIN * 2)
        .map((at) => `M${left},${at + 0.5}H${right + RIGHT}`)
        .join(""),
    );
  svg.append("path").attr("class", "frame").attr("d", `M${left},0V${height}`);
  ruledBand(svg, x, y, one, id);
  figures(svg, y, one);
  const inside = id + "-in";
  svg.select("defs").empty() && svg.append("defs");
  svg
    .select("defs")
    .append("clipPath")
    .attr("id", inside)
    .append("rect")
    .attr("x", left)
    .attr("y", 0)
    .attr("width", right - left + RIGHT)
    .attr("height", height);
  const drawn = svg.append("g").attr("clip-path", `url(#${inside})`);
  const points = broken(one.points, one.gap_ms);
  const known = (p) => p !== null;
  const px = (p) => x(p.at);
  drawn
    .append("path")
    .attr("class", "reach")
    .attr(
      "d",
      d3
        .area()
        .defined(known)
        .x(px)
        .y0((p) => y(p.low))
        .y1((p) => y(p.high))(points),
    );
  drawn
    .append("path")
    .attr("class", "trace")
    .attr(
      "d",
      d3
        .line()
        .defined(known)
        .x(px)
        .y((p) => y(p.mean))(points),
    );
  const last = one.points.at(-1);
  if (last && x(last.at) <= right + 1 && x(last.at) > left) {
    const at = Math.max(2, Math.min(height - 2, y(last.mean)));
    drawn
      .append("path")
      .attr("class", "pen")
      .attr("d", `M${x(last.at)},${at}l9,-4v8z`);
  }
}

/**
 * What an output ran: a tick for each run on a base line, as an event pen beside the strip draws.
 */
export function ticks(svgNode, x, output, height = 15) {
  const svg = d3.select(svgNode);
  svg.selectAll("*").remove();
  const [left, right] = x.range();
  svg
    .attr("viewBox", `0 0 ${right + RIGHT} ${height}`)
    .attr("height", height)
    .attr("data-output", output.id);
  svg.append("path").attr("class", "frame").attr("d", `M${left},0V${height}`);
  svg
    .append("text")
    .attr("x", GUTTER - 6)
    .attr("y", height - 4)
    .attr("text-anchor", "end")
    .text(output.id.length > 8 ? output.id.slice(0, 7) + "\u2026" : output.id);
  svg
    .append("path")
    .attr("class", "base")
    .attr("d", `M${left},${height - 2.5}H${right + RIGHT}`);
  const base = height - 2.5;
  let path = "",
    until = -Infinity;
  for (const run of output.runs) {
    const from = Math.max(left, x(run.from)),
      to = Math.min(right, x(run.to));
    if (to < left || from > right || to < until + 0.4) continue;
    path +=
      `M${from.toFixed(1)},${base}v${3 - height + 2}h${Math.max(0.8, to - from).toFixed(1)}` +
      `v${height - 5}z`;
    until = to;
  }
  svg.append("path").attr("class", "runs").attr("d", path);
}
