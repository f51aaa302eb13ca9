// Makes elements. Text goes in as text, so nothing the daemon says can become markup.

/** `h("p", {class: "why"}, "text", node, ...)`; members that begin with `on` are listeners. */
export function h(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else node.setAttribute(key, value === true ? "" : value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

export const svg = (attributes = {}) => {
  const node = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  return node;
};

/** Writes only what differs, so that a reader's selection and a screen reader are left alone. */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

let used = 0;
export const freshId = (word) => `${word}-${++used}`;

/** Says what was done, or why not, where the reader's screen reader hears it. */
export function announce(text, failed = false) {
  const said = document.getElementById("said");
  said.textContent = text;
  said.classList.toggle("failed", failed);
}
