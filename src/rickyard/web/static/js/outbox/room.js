// @ts-check
/**
 * Room on the phone. What browsers say of room left is rounded, padded or invented (so that sites cannot tell
 * phones apart), so some room is held with ballast: no room for it any more is the warning, and when a deed
 * finds no room the ballast makes way for it.
 */

/** A few photos, or some hundred deeds. */
const BALLAST_BYTES = 5_000_000;
// A cache, for browsers give its room back within a second; a database keeps it for long.
const BALLAST = "ballast";
const GIVEN_BACK_MS = 1_500;

/** Asks the browser not to clear what waits when the phone gets full. */
export async function askToLast() {
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

/** @param {unknown} error */
export function isFull(error) {
  return error instanceof DOMException && error.name === "QuotaExceededError";
}

/** @returns {Promise<boolean>} whether room is held for what comes */
export async function holdRoom() {
  const cache = await caches.open(BALLAST);
  if (await cache.match("/ballast")) return true;
  try {
    await cache.put("/ballast", new Response(new Uint8Array(BALLAST_BYTES)));
    return true;
  } catch (error) {
    if (isFull(error)) return false;
    throw error;
  }
}

/** Runs what keeps something; finds it no room, the ballast goes and it is run again. @param {() => Promise<void>} keep */
export async function withRoom(keep) {
  try {
    await keep();
  } catch (error) {
    if (!isFull(error)) throw error;
    await caches.delete(BALLAST);
    await new Promise((resolve) => setTimeout(resolve, GIVEN_BACK_MS));
    await keep();
  }
}
