// @ts-check
/** A button that asks the yard's computer, and no answer: said beside it, kindly, with what can be done meanwhile. */

/** @param {string} text @param {Element} place */
function say(text, place) {
  const line = document.createElement("p");
  line.className = "warn";
  line.dataset.unheard = "";
  line.setAttribute("role", "status");
  const words = document.createElement("span");
  words.textContent = text;
  line.append(words);
  place.after(line);
}

function hush() {
  for (const line of document.querySelectorAll("[data-unheard]")) line.remove();
}

/** @param {Record<string, string>} words */
export function sayUnheard(words) {
  document.addEventListener("htmx:before:request", hush);
  document.addEventListener("htmx:error", (event) => {
    const { ctx } = /** @type {CustomEvent} */ (event).detail;
    const asked = /** @type {Event | undefined} */ (ctx?.sourceEvent);
    // What asks by itself (suggestions while one types, progress) stays silent, and so does an answer that came.
    if (!asked || ctx.response || !["submit", "click"].includes(asked.type)) return;
    const source = /** @type {Element} */ (ctx.sourceElement);
    const button = asked instanceof SubmitEvent ? asked.submitter : source;
    const keeps = source.closest("form")?.dataset.outbox !== undefined;
    say(keeps ? words.noLook : words.noAnswer, button?.closest(".buttons") ?? button ?? source);
  });
}
