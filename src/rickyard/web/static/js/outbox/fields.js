// @ts-check
/** A form's fields: read as typed, and filled in again. */

/** @typedef {import("./store.js").Field} Field */

/** Fields the outbox gives itself. */
const OURS = new Set(["key", "who", "happened_at", "sent_at"]);

/** @param {HTMLFormElement} form @returns {Field[]} */
export function typed(form) {
  return [...new FormData(form)].filter(
    ([name, value]) => !OURS.has(name) && !(value instanceof File && value.size === 0),
  );
}

/** @param {HTMLFormElement} form @param {Field[]} fields */
export function fillIn(form, fields) {
  /** @type {Map<string, (string | File)[]>} */
  const left = new Map();
  for (const [name, value] of fields) left.set(name, [...(left.get(name) ?? []), value]);
  while (needsLine(form, left) && addLine(form));
  for (const box of form.elements) {
    if (box instanceof HTMLInputElement && (box.type === "radio" || box.type === "checkbox")) {
      box.checked = (left.get(box.name) ?? []).includes(box.value);
    } else if (box instanceof HTMLInputElement && box.type === "file") {
      const files = new DataTransfer();
      for (const value of left.get(box.name) ?? []) if (value instanceof File) files.items.add(value);
      box.files = files.files;
    } else if (
      (box instanceof HTMLInputElement && !OURS.has(box.name)) ||
      box instanceof HTMLSelectElement ||
      box instanceof HTMLTextAreaElement
    ) {
      const value = left.get(box.name)?.shift();
      if (typeof value === "string") box.value = value;
    }
  }
  for (const more of form.querySelectorAll("details")) {
    if ([...more.querySelectorAll("input, textarea")].some((box) => /** @type {HTMLInputElement} */ (box).value)) {
      more.open = true;
    }
  }
}

/** @param {HTMLFormElement} form @param {Map<string, unknown>} fields */
function needsLine(form, fields) {
  return [...fields.keys()].some((name) => /-\d+$/.test(name) && !form.elements.namedItem(name));
}

/** One more line of a list (logs one by one), like the last one and empty. @param {HTMLFormElement} form */
export function addLine(form) {
  const last = [...form.querySelectorAll("[data-line]")].at(-1);
  const count = form.elements.namedItem("lines");
  if (!last || !(count instanceof HTMLInputElement)) return false;
  const index = Number(count.value);
  const line = /** @type {HTMLElement} */ (last.cloneNode(true));
  const old = new RegExp(`-${index - 1}\\b`, "g");
  for (const node of [line, ...line.querySelectorAll("*")]) {
    for (const { name, value } of [...node.attributes]) {
      if (["id", "name", "for", "aria-describedby", "list", "hx-target"].includes(name)) {
        node.setAttribute(name, value.replace(old, `-${index}`));
      }
    }
    if (node instanceof HTMLInputElement) node.value = "";
    if (node.matches(".error")) node.remove();
  }
  for (const number of line.querySelectorAll("[data-number]")) number.textContent = String(index + 1);
  last.after(line);
  count.value = String(index + 1);
  return true;
}

/** The box at the top that lists what is to be put right, as the server would have shown it.
 * @param {HTMLFormElement} form @param {import("./store.js").Complaint[]} complaints @param {string} heading */
export function complain(form, complaints, heading) {
  form.querySelector("[data-errors]")?.remove();
  for (const box of form.querySelectorAll("[aria-invalid]")) box.removeAttribute("aria-invalid");
  if (!complaints.length) return;
  const box = document.createElement("div");
  Object.assign(box, { className: "errors", tabIndex: -1 });
  box.setAttribute("role", "alert");
  box.dataset.errors = "";
  const title = document.createElement("h2");
  title.textContent = heading;
  const list = document.createElement("ul");
  for (const { field, label, text } of complaints) {
    const item = document.createElement("li");
    const place = field && form.querySelector(`#${CSS.escape(field)}, [name="${CSS.escape(field)}"]`);
    if (place) {
      place.setAttribute("aria-invalid", "true");
      const link = document.createElement("a");
      Object.assign(link, { href: `#${field}`, textContent: label });
      item.append(link, " ");
    }
    const words = document.createElement("span");
    words.textContent = text;
    item.append(words);
    list.append(item);
  }
  box.append(title, list);
  form.prepend(box);
  box.focus();
  box.scrollIntoView({ block: "start" });
}
