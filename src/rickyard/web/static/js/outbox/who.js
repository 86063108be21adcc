// @ts-check
/** Who uses the phone: the number in the cookie, and the names this phone has heard. */

/** @param {string} name */
export function cookie(name) {
  return new RegExp(`(?:^|; )${name}=([^;]*)`).exec(document.cookie)?.[1] ?? "";
}

/** Keeps the name the page at hand says, before anything else is waited for. */
export function hearName() {
  const { who, whoName } = document.documentElement.dataset;
  if (who && whoName) localStorage.setItem(`name-of-${who}`, whoName);
}

/** The name of a person, if any page on this phone ever said it: the page at hand may be one kept for somebody else.
 * @param {string} who */
export function nameOf(who) {
  return (who && localStorage.getItem(`name-of-${who}`)) || "";
}
