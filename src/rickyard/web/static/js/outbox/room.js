// @ts-check
/**
 * Room on the phone. What browsers say of room left is rounded, padded or invented (so that sites cannot tell
 * phones apart), so some room is held with ballast: no room for it any more is the warning, and when a deed
 * finds no room the ballast makes way for it.
 */

/** @typedef {import("./store.js").Store} Store */

/** A few photos, or some hundred deeds. */
const BALLAST_BYTES = 5_000_000;
const BALLAST = "ballast";

/** Asks the browser not to clear what waits when the phone gets full. */
export async function askToLast() {
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

/** @param {unknown} error */
export function isFull(error) {
  return error instanceof DOMException && error.name === "QuotaExceededError";
}

/** @param {Store} store @returns {Promise<boolean>} whether room is held for what comes */
export async function holdRoom(store) {
  if (await store.draft(BALLAST)) return true;
  try {
    const ballast = new File([new Uint8Array(BALLAST_BYTES)], BALLAST);
    await store.keepDraft({ id: BALLAST, at: Date.now(), fields: [[BALLAST, ballast]] });
    return true;
  } catch (error) {
    if (isFull(error)) return false;
    throw error;
  }
}

/** Runs what keeps something; finds it no room, the ballast goes and it is run again.
 * @param {Store} store @param {() => Promise<void>} keep */
export async function withRoom(store, keep) {
  try {
    await keep();
  } catch (error) {
    if (!isFull(error)) throw error;
    await store.dropDraft(BALLAST);
    await keep();
  }
}
