// @ts-check
/** The form that puts what was seen into the book: for a load, or only kept. The outbox sends it. */

import { filled } from "../outbox/list.js";
import { place } from "./made.js";

/** @typedef {import("./card.js").Words} Words */
/** @typedef {import("./state.js").Said} Said */

const KEPT = "tree-kept";

/** @param {string} id @returns {HTMLInputElement} */
const field = (id) => /** @type {HTMLInputElement} */ (place(id));

export class Keep {
  /** @param {Words} words @param {(said: Said) => void} reopened a form sent back to be put right: its answers are shown again */
  constructor(words, reopened) {
    this.words = words;
    this.seen = "";
    this.wood = "";
    this.name = "";
    const part = /** @type {HTMLSelectElement} */ (place("part"));
    part.addEventListener("change", () => this.#note());
    field("load_number").addEventListener("input", () => this.#note());
    this.part = part;
    place("seen-form").querySelector("button.is-main")?.addEventListener("click", () => localStorage.setItem(KEPT, this.seen));
    const ready = () => {
      if (location.hash.startsWith("#outbox-") && field("seen").value) {
        /** @type {HTMLDetailsElement} */ (place("tree-use")).open = true;
        const { situations, region, street, answers, notSeen } = JSON.parse(field("seen").value);
        reopened({ situations, region, street, answers, notSeen });
      } else {
        this.#choose();
        this.#fill();
      }
    };
    if (document.documentElement.dataset.outboxReady !== undefined) ready();
    // The outbox fills in what was typed here before; what is said now is newer.
    else new MutationObserver(ready).observe(document.documentElement, { attributeFilter: ["data-outbox-ready"] });
  }

  /** @param {Said} said @param {string} name of the verdict, or nothing @param {string} wood as the book calls it, or nothing */
  show(said, name, wood) {
    const { situations, region, street, answers, notSeen } = said;
    const { counts, exponent, ui } = this.words;
    this.seen = JSON.stringify({ situations, region, street, answers, notSeen, counts, exponent });
    this.name = name;
    this.wood = wood;
    place("tree-use").hidden = !answers.length;
    place("tree-use-title").textContent = wood ? ui.useIt : ui.keepIt;
    this.#fill();
  }

  /** Who came from a load's page means that load; one that the list no longer holds is said by its number. */
  #choose() {
    const from = new URLSearchParams(location.hash.slice(1));
    const load = from.get("load");
    if (!load) return;
    const option = [...this.part.options].find(({ value }) => value.startsWith(`${load}:`));
    this.part.value = option?.value ?? "";
    field("load_number").value = option ? "" : (from.get("number") ?? "");
    this.part.dispatchEvent(new Event("change", { bubbles: true }));
  }

  #fill() {
    field("seen").value = this.seen;
    field("now").value = this.wood;
    this.#note();
  }

  #note() {
    const { ui, unnamed } = this.words;
    const note = !(this.part.value || field("load_number").value.trim())
      ? ui.willKeep
      : !this.wood
        ? ui.notSettled
        : unnamed.includes(this.wood)
          ? filled(ui.noWood, { name: this.name, wood: this.wood })
          : filled(ui.willName, { name: this.wood });
    const before = localStorage.getItem(KEPT) === this.seen ? ` ${ui.keptBefore}` : "";
    place("tree-use-note").textContent = note + before;
  }
}
