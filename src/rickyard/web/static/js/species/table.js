// @ts-check
/** The sheets of all trees, from the yard's computer or as the phone kept them, and the key's own table. */

/** @typedef {[words: number, ...refs: number[]]} Claim */
/** @typedef {[key: string, label: number, claims: Claim[], note?: number]} Row */
/** @typedef {[character: number, refs: number[], states?: number[]]} Look */
/** @typedef {[id: string, title: number, rows: Row[], looks: Look[], notes: number[]]} Part */
/** @typedef {[sheet: number, note: number, ...refs: number[]]} Alike */
/** @typedef {[id: string, name: string, scientific: string, parts: Part[], alike: Alike[], wood: string, standsIn: number, sources: number[]]} Sheet */
/** @typedef {[label: string, picture?: string, alt?: string]} State */
/** @typedef {[main: string, span: string][]} Cells */
/**
 * @typedef {{ui: Record<string, string>, months: string[], strings: string[], sheets: Sheet[], characters: [string, ...State[]][],
 *   key: string, drying: Record<string, Cells>, dryingLead: string, made: string}} Table
 */
/** @typedef {import("../identify/key.js").Packed} Packed */

const TABLE = "/species/table.json";
/** With a table at hand, signal that takes longer than this counts as none, as for pages. */
const PATIENCE_MS = 4_000;

/** @returns {Promise<{table: Table, key: Packed}>} */
export async function read() {
  const kept = "caches" in window ? await caches.match(TABLE) : undefined;
  const asked = fetch(TABLE).then((answer) => (answer.ok ? answer : Promise.reject(new Error(`${TABLE} answered ${answer.status}`))));
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS));
  const answer = kept ? await Promise.race([asked.catch(() => kept), late.then(() => kept)]) : await asked;
  const table = /** @type {Table} */ (await answer.json());
  const key = /** @type {Packed} */ (await (await fetch(table.key)).json());
  return { table, key };
}

/**
 * The cell of a tree of the key: weights of the states (8 usually, 3 sometimes, 1 rarely) and eps; 0 if the tree has
 * not the part, null if nothing is known.
 * @param {Packed} key @param {number} character @param {number} tree
 */
export function cellOf(key, character, tree) {
  const at = key.columns[character][tree];
  return at < 0 ? null : key.cells[character][at];
}

/** States of a cell: those it usually shows, and those now and then. @param {import("../identify/key.js").Cell | null} cell */
export function statesOf(cell) {
  const weights = cell ? cell.slice(1) : [];
  return {
    usual: weights.flatMap((weight, at) => (weight === 8 ? [at] : [])),
    also: [3, 1].flatMap((rank) => weights.flatMap((weight, at) => (weight === rank ? [at] : []))),
  };
}
