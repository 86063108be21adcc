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

/** @returns {Promise<{table: Table, key: Packed}>} */
export async function read() {
  const kept = async () => (await caches.match(TABLE)) ?? Promise.reject(new Error(TABLE));
  const asked = await fetch(TABLE).catch(kept);
  const answer = asked.ok ? asked : await kept();
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
