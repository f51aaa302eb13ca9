// What the page asks of the daemon, and what the daemon tells it unasked; docs/sheet-api.yaml is
// the contract. Fails with an Error whose message is a sentence for the reader.

const AGAIN_MS = 3000;

async function answered(request) {
  let response;
  try {
    response = await request;
  } catch {
    throw new Error("The daemon does not answer. Nothing was done.");
  }
  if (response.status === 401) {
    location.assign("signin");
    throw new Error("Sign in first.");
  }
  let answer;
  try {
    answer = await response.json();
  } catch {
    throw new Error(`The daemon answered ${response.status} without words.`);
  }
  if (!response.ok) {
    const error = new Error(answer.error?.text ?? "It could not be done.");
    error.status = response.status;
    throw error;
  }
  return answer;
}

/** One question: `get("batch/B-07")`, `get("history", {chamber: "tub-1", ...})`. */
export function get(path, query = {}) {
  const words = new URLSearchParams(query).toString();
  return answered(
    fetch("api/" + path + (words ? "?" + words : ""), { credentials: "same-origin" }),
  );
}

/** One act, told to the daemon; its answer has `text`, what was done. */
export function act(what, args) {
  return answered(
    fetch("api/act/" + what, {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json", "X-Tubwarden": "act" },
      body: JSON.stringify(args),
    }),
  );
}

/** Puts what differs into what is known; elements of tubs and chambers are whole, by their id. */
export function merge(known, change) {
  const next = { ...known, ...change };
  for (const list of ["tubs", "chambers"]) {
    const gone = new Set(change.gone?.[list] ?? []);
    const by = new Map((known[list] ?? []).map((one) => [one.id, one]));
    for (const one of change[list] ?? []) by.set(one.id, { ...by.get(one.id), ...one });
    next[list] = [...by.values()].filter((one) => !gone.has(one.id));
  }
  delete next.gone;
  return next;
}

/**
 * The daemon's events: `heard(event, data)` for each `state` and `change`, `lost(since)` once
 * when they end, `found()` when they come again. Asks again by itself. What else tells that the
 * daemon is there or is not says so by `alive` and `miss`.
 */
export function follow(heard, lost, found) {
  let last = Date.now();
  let isLost = false;
  let source = null;
  const sign = () => {
    last = Date.now();
    if (isLost) found();
    isLost = false;
  };
  const miss = () => {
    if (!isLost) lost(last);
    isLost = true;
  };
  const open = () => {
    source = new EventSource("api/live");
    for (const name of ["state", "change"]) {
      source.addEventListener(name, (event) => {
        sign();
        heard(name, JSON.parse(event.data));
      });
    }
    source.addEventListener("open", sign);
    source.addEventListener("error", () => {
      miss();
      source.close();
      setTimeout(open, AGAIN_MS);
    });
  };
  open();
  return { alive: sign, miss };
}
