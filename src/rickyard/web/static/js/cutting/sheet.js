// @ts-check
/**
 * A cut sheet at the saw: one log at a time, ticked off by a tap, with or without signal.
 * What this phone ticked off and the page does not know yet (it was kept before) is read from the outbox.
 */

import { Store } from "../outbox/store.js";

/** @typedef {import("../outbox/store.js").Entry} Entry */

const ACTION = /^\/cutting\/(\d+)\/log\/(\d+)\/(tick|undo|found)(?:\?(.*))?$/;

class Sheet {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.logs = /** @type {HTMLElement[]} */ ([...root.querySelectorAll("[data-log]")]);
  }

  async start() {
    this.root.classList.add("is-single");
    const entries = await this.#entries();
    for (const entry of entries) this.#told(entry.action, entry.state !== "done");
    addEventListener("hashchange", () => this.show(this.#asked(), true));
    this.root.addEventListener("outbox-kept", (event) => this.#kept(/** @type {HTMLFormElement} */ (event.target)));
    this.root.addEventListener("outbox-sent", (event) => {
      const { action } = /** @type {HTMLFormElement} */ (event.target);
      // What was found changes the plan: the page is made anew, if there is signal.
      if (/** @type {CustomEvent} */ (event).detail === "done" && new URL(action).pathname.endsWith("/found")) location.reload();
      else if (/** @type {CustomEvent} */ (event).detail === "done") this.#section(action)?.querySelector("[data-kept]")?.setAttribute("hidden", "");
    });
    const refused = /^#outbox-(\d+)$/.exec(location.hash)?.[1];
    const open = refused && entries.find((entry) => entry.id === Number(refused));
    this.show(open ? Number(ACTION.exec(open.action)?.[2]) : this.#asked(), false);
    this.#count();
  }

  /** @returns {Promise<Entry[]>} what this phone has typed about this sheet, in order */
  async #entries() {
    if (!isSecureContext || !("indexedDB" in window)) return [];
    const store = await Store.open();
    return (await store.entries()).filter((entry) => ACTION.exec(entry.action)?.[1] === this.root.dataset.sheet);
  }

  /** The log that the address asks for, else the first that is not cut. */
  #asked() {
    const number = Number(/^#log-(\d+)$/.exec(location.hash)?.[1]);
    return this.logs.some((log) => Number(log.dataset.log) === number) ? number : this.#next(0);
  }

  /** @param {number} after */
  #next(after) {
    const open = this.logs.filter((log) => log.dataset.done === undefined).map((log) => Number(log.dataset.log));
    return open.find((number) => number > after) ?? open[0] ?? (after || Number(this.logs[0].dataset.log));
  }

  /** @param {number} number @param {boolean} focus */
  show(number, focus) {
    for (const log of this.logs) {
      const here = Number(log.dataset.log) === number;
      log.toggleAttribute("data-shown", here);
      if (here && focus) {
        log.focus({ preventScroll: true });
        this.root.scrollIntoView({ block: "start" });
      }
    }
    for (const chip of this.root.querySelectorAll("[data-chip]")) {
      if (Number(/** @type {HTMLElement} */ (chip).dataset.chip) === number) chip.setAttribute("aria-current", "true");
      else chip.removeAttribute("aria-current");
    }
  }

  /** @param {string} action */
  #section(action) {
    const number = ACTION.exec(action.replace(location.origin, ""))?.[2];
    return this.logs.find((log) => log.dataset.log === number);
  }

  /** What was said of a log or piece, shown. @param {string} action @param {boolean} waits */
  #told(action, waits) {
    const [, , , what, query] = ACTION.exec(action.replace(location.origin, "")) ?? [];
    const log = this.#section(action);
    if (!log) return;
    const place = new URLSearchParams(query).get("from_m");
    const done = what === "tick";
    if (what !== "found") {
      for (const piece of /** @type {NodeListOf<HTMLElement>} */ (log.querySelectorAll("[data-piece]"))) {
        const mine = place === null || new URLSearchParams(piece.dataset.piece).get("from_m") === place;
        if (mine) piece.toggleAttribute("data-done", done);
      }
      const pieces = [...log.querySelectorAll(".cut-piece")];
      const all = place === null ? done : pieces.every((piece) => piece.hasAttribute("data-done"));
      log.toggleAttribute("data-done", all);
      const chip = this.root.querySelector(`[data-chip="${log.dataset.log}"]`);
      chip?.toggleAttribute("data-done", all);
      const said = chip?.querySelector("[data-chip-said]");
      if (said) said.textContent = all ? `, ${this.root.dataset.cutWords}` : "";
    }
    const kept = log.querySelector("[data-kept]");
    if (kept && waits) {
      kept.textContent = (what === "found" ? this.root.dataset.foundWords : this.root.dataset.keptWords) ?? "";
      kept.removeAttribute("hidden");
    }
  }

  /** @param {HTMLFormElement} form */
  #kept(form) {
    this.#told(form.action, true);
    this.#count();
    const log = this.#section(form.action);
    if (log?.dataset.done === undefined || !new URL(form.action).pathname.endsWith("/tick")) return;
    const next = this.#next(Number(log.dataset.log));
    if (String(next) === log.dataset.log) return;
    // Another address for each log, so that the way back leads to the log before.
    location.hash = `log-${next}`;
  }

  #count() {
    const done = this.logs.filter((log) => log.dataset.done !== undefined).length;
    const count = this.root.querySelector("[data-count-done]");
    if (count) count.textContent = String(done);
    this.root.querySelector("[data-all-done]")?.toggleAttribute("hidden", done < this.logs.length);
  }
}

const root = document.getElementById("cut-sheet");
if (root) await new Sheet(root).start();
