// @ts-check
/** Brings the wood that the key has named into a form: from the page's address, or on a tap. */

import { filled } from "../outbox/list.js";
import { lately } from "./state.js";

/** A verdict is offered for so long: by then the next load has come. */
const LATELY_MS = 7 * 86_400_000;

/** @param {string} id @param {string} wood */
function write(id, wood) {
  const field = document.getElementById(id);
  if (!(field instanceof HTMLInputElement)) return;
  field.value = wood;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

const named = new URLSearchParams(location.hash.slice(1)).get("wood");
const last = lately();
/** What was seen goes with the load that was named by it. */
const seen = named && last?.wood === named ? (last.seen ?? "") : "";
if (named) {
  write("wood", named);
  write("seen", seen);
  // What was typed here before may be filled in later than this; the tree just named is newer.
  new MutationObserver((_, observer) => {
    observer.disconnect();
    write("wood", named);
    write("seen", seen);
  }).observe(document.documentElement, { attributeFilter: ["data-outbox-ready"] });
}

const offer = document.getElementById("tree-named");
if (offer && last && Date.now() - last.at < LATELY_MS) {
  offer.textContent = filled(offer.dataset.words ?? "", { name: last.wood });
  offer.hidden = false;
  offer.addEventListener("click", () => write("now", last.wood));
}
