// @ts-check
/** Sends what waits, in order, each until it is settled; one sender for all tabs. */

/** @typedef {import("./store.js").Entry} Entry */
/** @typedef {import("./store.js").Store} Store */
/** @typedef {import("./store.js").Complaint} Complaint */
/**
 * What came back: done; needs the person (complaints); nobody is signed in; the server is unwell; or there is no
 * way to it.
 * @typedef {{is: "done", go: string} | {is: "needs", complaints: Complaint[]} | {is: "out"} | {is: "unwell"} | {is: "away"}} Outcome
 */

export const PATIENCE_MS = 30_000;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 60_000;
/** An entry the server fails on this often no longer holds up those behind it. */
const HOLDS_UP = 3;
/** Settled entries stay on the list this long, without their photos. */
const KEPT_DONE_MS = 86_400_000;

/** @param {number} tries @param {number} [chance] from 0 to 1 @returns {number} wait before the next try [ms] */
export function backOff(tries, chance = Math.random()) {
  const most = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.max(0, tries - 1));
  return most * (0.5 + 0.5 * chance);
}

/** @param {Entry} entry @param {number} now @returns {FormData} */
export function bodyOf(entry, now) {
  const body = new FormData();
  for (const [name, value] of entry.fields) body.append(name, value);
  body.set("key", entry.key);
  body.set("who", entry.who);
  body.set("happened_at", new Date(entry.happenedAt).toISOString());
  // The server tells from this how far the phone's clock is wrong.
  body.set("sent_at", new Date(now).toISOString());
  return body;
}

/** @param {Entry} entry @param {typeof fetch} [send] @returns {Promise<Outcome>} */
export async function post(entry, send = (...args) => fetch(...args)) {
  let response;
  let told;
  try {
    response = await send(entry.action, {
      method: "POST",
      body: bodyOf(entry, Date.now()),
      headers: { "X-Outbox": "1" },
      redirect: "manual",
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    told = await response.json();
  } catch {
    // No answer, half an answer, or somebody else's (a hotel's log-in page): the same key is sent again.
    return response && response.status >= 500 ? { is: "unwell" } : { is: "away" };
  }
  if (response.ok && typeof told?.go === "string") return { is: "done", go: told.go };
  if (response.status === 401) return { is: "out" };
  if (Array.isArray(told?.errors)) return { is: "needs", complaints: told.errors };
  if (response.status < 500 && response.status !== 429 && told?.error?.message) {
    return { is: "needs", complaints: [{ field: "", label: "", text: told.error.message }] };
  }
  return { is: "unwell" };
}

/**
 * One round over the queue.
 * @param {Store} store
 * @param {object} by
 * @param {(entry: Entry) => Promise<Outcome>} by.post
 * @param {() => string} by.who who uses the phone now: nothing is sent under another's name
 * @param {() => void} by.changed
 * @param {() => number} by.now
 * @param {() => void} [by.out] somebody must sign in before anything is sent
 * @returns {Promise<number | null>} wait before the next round [ms]; null when nothing can be sent
 */
export async function round(store, { post, who, changed, now, out }) {
  let wait = null;
  const known = await store.entries();
  const open = new Set(known.filter((entry) => entry.state !== "done").map((entry) => entry.key));
  for (const { id } of known) {
    // Read again: another tab may have opened or thrown it away meanwhile.
    const entry = await store.entry(/** @type {number} */ (id));
    if (!entry) continue;
    if (entry.state === "done") {
      if (now() - entry.happenedAt > KEPT_DONE_MS) await store.drop(/** @type {number} */ (id));
      continue;
    }
    if (entry.state === "needs") continue;
    if (entry.who !== who() || open.has(entry.after)) {
      // Cut off on its way, by a page that was left: there is one sender, and it is not sending this.
      if (entry.state === "sending") {
        entry.state = "waiting";
        await store.keep(entry);
        changed();
      }
      continue;
    }
    entry.state = "sending";
    await store.keep(entry);
    changed();
    const outcome = await post(entry);
    if (outcome.is === "done") {
      open.delete(entry.key);
      Object.assign(entry, { state: "done", go: outcome.go, complaints: [], fields: [] });
    } else if (outcome.is === "needs") {
      Object.assign(entry, { state: "needs", complaints: outcome.complaints });
    } else if (outcome.is === "out") {
      entry.state = "waiting";
    } else {
      entry.state = "waiting";
      entry.tries += 1;
      const next = backOff(entry.tries);
      wait = wait === null ? next : Math.min(wait, next);
    }
    // Thrown away while it was on the way: what was done stays done, and is not put back.
    if (await store.entry(/** @type {number} */ (id))) await store.keep(entry);
    changed();
    if (outcome.is === "out") {
      out?.();
      return null;
    }
    if (outcome.is === "away" || (outcome.is === "unwell" && entry.tries < HOLDS_UP)) break;
  }
  return wait;
}

/** Runs rounds when there is cause to: something new, signal again, the page looked at, or the wait over. */
export class Sender {
  /** @param {Store} store @param {{who: () => string, changed: () => void, out?: () => void, post?: typeof post}} by */
  constructor(store, by) {
    this.store = store;
    this.by = { post, now: Date.now, ...by };
    /** @type {number | undefined} */
    this.timer = undefined;
    /** @type {Promise<void> | null} */
    this.asked = null;
  }

  /** @returns {Promise<void>} settled after a round that began after the call */
  send() {
    clearTimeout(this.timer);
    // A round that has not begun yet will see everything kept until now.
    this.asked ??= this.#round();
    return this.asked;
  }

  async #round() {
    await navigator.locks.request("rickyard-outbox", async () => {
      this.asked = null;
      const wait = await round(this.store, this.by);
      clearTimeout(this.timer);
      if (wait !== null) this.timer = setTimeout(() => this.send(), wait);
    });
  }
}
