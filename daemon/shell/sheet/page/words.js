// Numbers, times and standings as words. No page, no network: everything comes as an argument, but
// for the one setting of this reader, Celsius or Fahrenheit, which is kept in the browser.

const FAHRENHEIT = "fahrenheit";
let fahrenheit = false;
try {
  fahrenheit = localStorage.getItem(FAHRENHEIT) === "yes";
} catch {
  // a browser that keeps nothing shows Celsius
}

export const inFahrenheit = () => fahrenheit;

export function setFahrenheit(yes) {
  fahrenheit = yes;
  try {
    localStorage.setItem(FAHRENHEIT, yes ? "yes" : "no");
  } catch {
    // it holds until the page is left
  }
}

/** What this reader sees of a value that is kept in `unit`. */
export const shown = (value, unit) => (unit === "C" && fahrenheit ? value * 1.8 + 32 : value);
export const shownUnit = (unit) => (unit === "C" && fahrenheit ? "F" : unit);

const DECIMALS = { "%": 1, C: 1, ppm: 0, "g/kg": 1, kPa: 2 };

export function figure(value, unit) {
  return shown(value, unit).toFixed(DECIMALS[unit] ?? 1);
}

export const amount = (value, unit) => figure(value, unit) + "\u00a0" + shownUnit(unit);

/** A limit as it was set: 85, not 85.0. */
export const limit = (value, unit) => String(Number(figure(value, unit)));

/** The daemon's sentences name Celsius; this reader may want Fahrenheit. */
export function sentence(text) {
  if (!fahrenheit) return text;
  const apart = (n) => String(Number((Number(n) * 1.8).toFixed(1)));
  const turned = (n) => String(Number((Number(n) * 1.8 + 32).toFixed(1)));
  return text
    .replace(
      /(-?\d+(?:\.\d+)?) C (below|above|colder|cooler|warmer)\b/g,
      (_, n, word) => `${apart(n)} F ${word}`,
    )
    .replace(
      /(-?\d+(?:\.\d+)?) (to|\.\.) ?(-?\d+(?:\.\d+)?) C\b/g,
      (_, a, word, b) => `${turned(a)} ${word} ${turned(b)} F`,
    )
    .replace(/(-?\d+(?:\.\d+)?) C\b/g, (_, n) => `${turned(n)} F`);
}

export function span(seconds) {
  const s = Math.max(0, Math.round(seconds));
  if (s < 90) return s + "\u00a0s";
  if (s < 90 * 60) return Math.round(s / 60) + "\u00a0min";
  if (s < 48 * 3600) return Math.round(s / 3600) + "\u00a0h";
  return Math.round(s / 86400) + "\u00a0days";
}

const CLOCK = new Intl.DateTimeFormat(undefined, {
  hour: "2-digit",
  minute: "2-digit",
  hourCycle: "h23",
});
const DAY = new Intl.DateTimeFormat(undefined, {
  weekday: "short",
  day: "numeric",
  month: "short",
});
const MOMENT = new Intl.DateTimeFormat(undefined, {
  day: "numeric",
  month: "short",
  hour: "2-digit",
  minute: "2-digit",
  hourCycle: "h23",
});

export const clock = (at) => CLOCK.format(at);
export const day = (at) => DAY.format(at);
export const moment = (at) => MOMENT.format(at);

/**
 * The band as a reader means it: no air is too low in CO2, and none is above 100 %. What is
 * always so is no edge.
 */
export function meant(band, unit) {
  if (!band) return null;
  const low = unit === "ppm" ? null : band[0];
  const high = unit === "%" && band[1] >= 100 ? null : band[1];
  return [low, high];
}

/** "85 to 90 %", "below 1000 ppm", "above 90 %"; nothing where there is no band. */
export function bandWords(band, unit) {
  if (!band) return "";
  const [low, high] = meant(band, unit);
  if (low === null && high === null) return "";
  if (low === null) return `below ${limit(high, unit)}\u00a0${shownUnit(unit)}`;
  if (high === null) return `above ${limit(low, unit)}\u00a0${shownUnit(unit)}`;
  return `${limit(low, unit)} to ${limit(high, unit)}\u00a0${shownUnit(unit)}`;
}

const below = (value, edge) => edge !== null && edge !== undefined && value < edge;
const above = (value, edge) => edge !== null && edge !== undefined && value > edge;

/**
 * Where a reading stands: `word` for the reader, `kind` for the drawing (in, out, far, dead, free).
 */
export function standing(q) {
  if (q.value === null || q.value === undefined) return { word: "unheard", kind: "dead" };
  if (!q.usable) return { word: "not live", kind: "dead" };
  if (below(q.value, q.warn?.[0])) return { word: "too low", kind: "far" };
  if (above(q.value, q.warn?.[1])) return { word: "too high", kind: "far" };
  const keep = meant(q.keep, q.unit);
  if (below(q.value, keep?.[0])) return { word: "low", kind: "out" };
  if (above(q.value, keep?.[1])) return { word: "high", kind: "out" };
  if (keep) return { word: "in band", kind: "in" };
  return { word: "", kind: "free" };
}

/** "fruiting, day 3, flush 2". */
export function phaseWords(tub) {
  if (!tub.phase) return "phase not confirmed";
  const parts = [tub.phase];
  if (tub.phase !== "empty") parts.push(`day ${tub.day}`);
  if (tub.flush) parts.push(`flush ${tub.flush}`);
  return parts.join(", ");
}
