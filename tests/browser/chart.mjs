// Reads a drawn lane back into readings, by the scale it leaves beside what it draws.

/** [{at, value}] of the trace of `quantity` in `tub`, as it is drawn now. */
export function drawnTrace(page, tub, quantity) {
  return page.evaluate(
    (id, name) => {
      const svg = document.querySelector(`[data-tub="${id}"] svg[data-quantity="${name}"]`);
      const number = (attribute) => Number(svg.getAttribute(`data-${attribute}`));
      const between = (value, from, to, low, high) =>
        low + ((value - from) / (to - from)) * (high - low);
      const d = svg.querySelector("path.trace").getAttribute("d") ?? "";
      return [...d.matchAll(/(-?[\d.e+-]+),(-?[\d.e+-]+)/g)].map(([, x, y]) => ({
        at: between(Number(x), number("left"), number("right"), number("from"), number("to")),
        value: between(Number(y), number("bottom"), number("top"), number("low"), number("high")),
      }));
    },
    tub,
    quantity,
  );
}

/** Whether `values` stand at the end of the trace, in this order, to a hundredth of their size. */
export function endsWith(trace, values) {
  const kept = [];
  for (const point of trace) {
    const last = kept.at(-1);
    if (last === undefined || Math.abs(last - point.value) > 1e-3) kept.push(point.value);
  }
  const tail = kept.slice(-values.length);
  return (
    tail.length === values.length &&
    tail.every((value, i) => Math.abs(value - values[i]) <= Math.abs(values[i]) * 1e-3)
  );
}
