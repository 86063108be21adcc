// @ts-check
/**
 * What every page does beyond plain HTML and htmx: brings the complaints of a form into view and focus,
 * and closes the menu when something else is touched. Everything works without it.
 */

/** @param {ParentNode} place */
function showComplaints(place) {
  const box = /** @type {HTMLElement | null} */ (place.querySelector("[data-errors]"));
  if (box) {
    box.focus();
    box.scrollIntoView({ block: "start" });
  }
}

document.addEventListener("htmx:after:swap", () => showComplaints(document));
showComplaints(document);

/** A complaint's link goes to its field, and the field gets the focus. */
document.addEventListener("click", (event) => {
  const target = /** @type {Element} */ (event.target);
  const link = target.closest(".errors a[href^='#']");
  if (link) {
    const field = document.getElementById((link.getAttribute("href") ?? "").slice(1));
    const box = field?.matches("input, select, textarea") ? field : field?.querySelector("input");
    if (box instanceof HTMLElement) {
      event.preventDefault();
      box.focus();
      box.scrollIntoView({ block: "center" });
    }
    return;
  }
  for (const menu of document.querySelectorAll(".nav-more details[open]")) {
    if (!menu.contains(target)) menu.removeAttribute("open");
  }
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const menu of document.querySelectorAll(".nav-more details[open]")) {
    menu.removeAttribute("open");
    menu.querySelector("summary")?.focus();
  }
});
