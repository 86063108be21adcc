// @ts-check
/** Room on the phone: asked to be lasting, and warned of before it runs out. */

const TIGHT_BYTES = 50_000_000;
const TIGHT_SHARE = 0.8;

/** Asks the browser not to clear what waits when the phone gets full. */
export async function askToLast() {
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}

/** @returns {Promise<boolean>} whether what is left may not hold a day's photos */
export async function tight() {
  const { usage = 0, quota = 0 } = await navigator.storage.estimate();
  return quota > 0 && (quota - usage < TIGHT_BYTES || usage / quota > TIGHT_SHARE);
}
