// @ts-check
/**
 * Which wood of a load: once one is chosen, its logs to tick, or how much of it. A number that is typed goes before the
 * list, as it does where the form arrives.
 * All boxes are there from the start, so that a form typed before is filled in again; only the chosen load's count.
 */

import { made } from "./made.js";

/** @param {HTMLElement} place */
function offer(place) {
  /** @type {Record<string, [number, string][]>} */
  const logs = JSON.parse(place.dataset.logs ?? "{}");
  const part = place.querySelector("select");
  const boxes = place.querySelector("[data-which-logs]");
  const share = place.querySelector("[data-which-share]");
  const number = place.querySelector("#load_number");
  if (!part || !(number instanceof HTMLInputElement) || !(boxes instanceof HTMLFieldSetElement) || !(share instanceof HTMLElement)) return;
  for (const [value, list] of Object.entries(logs)) {
    for (const [number, words] of list) {
      const box = made("input", { type: "checkbox", name: "log_numbers", value: String(number), disabled: true });
      const choice = made("label", { className: "choice", hidden: true }, box, made("span", { textContent: words }));
      choice.dataset.part = value;
      boxes.querySelector(".choices")?.append(choice);
    }
  }
  const show = () => {
    const chosen = number.value.trim() ? "" : part.value;
    for (const choice of boxes.querySelectorAll("label")) {
      choice.hidden = choice.dataset.part !== chosen;
      const box = choice.querySelector("input");
      if (box) box.disabled = choice.hidden;
    }
    boxes.hidden = !logs[chosen];
    share.hidden = !(chosen || number.value.trim()) || Boolean(logs[chosen]);
    for (const box of share.querySelectorAll("input")) box.disabled = share.hidden;
  };
  part.addEventListener("change", show);
  number.addEventListener("input", show);
  show();
  // What was typed here before is filled in later than this.
  new MutationObserver(show).observe(document.documentElement, { attributeFilter: ["data-outbox-ready"] });
}

for (const place of document.querySelectorAll(".tree-which")) if (place instanceof HTMLElement) offer(place);
