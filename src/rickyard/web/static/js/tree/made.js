// @ts-check
/** Elements, made and found. */

/** @param {string} tag @param {Record<string, unknown>} [set] @param {(Node | string)[]} within @returns {HTMLElement} */
export function made(tag, set = {}, ...within) {
  const element = Object.assign(document.createElement(tag), set);
  element.append(...within);
  return element;
}

/** @param {string} id @returns {HTMLElement} */
export function place(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(id);
  return found;
}
