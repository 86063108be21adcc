// @ts-check
/** The list of trees: found by typing, two or three chosen for comparing. */

import { place } from "../tree/made.js";

const MOST = 3;
const form = /** @type {HTMLFormElement} */ (place("species-compare"));
const find = /** @type {HTMLInputElement} */ (place("species-find"));
const go = /** @type {HTMLButtonElement} */ (place("species-go"));
const boxes = [...form.querySelectorAll("input[type=checkbox]")].flatMap((box) => (box instanceof HTMLInputElement ? [box] : []));
const bare = (/** @type {string} */ text) => text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();

function choose() {
  const chosen = boxes.filter((box) => box.checked).length;
  go.disabled = chosen < 2;
  for (const box of boxes) box.disabled = chosen >= MOST && !box.checked;
}

place("species-find-field").hidden = false;
find.addEventListener("input", () => {
  const words = bare(find.value).split(/\s+/);
  for (const item of place("species-list").children) {
    if (item instanceof HTMLElement) item.hidden = !words.every((word) => bare(item.dataset.find ?? "").includes(word));
  }
});
form.addEventListener("change", choose);
choose();
