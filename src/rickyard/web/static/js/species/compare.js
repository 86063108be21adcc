// @ts-check
/** Two or three trees side by side. What separates them is reckoned as rickyard.identify.telling does. */

import { filled } from "../outbox/list.js";
import { made } from "../tree/made.js";
import { drawn, labels } from "./sheet.js";
import { cellOf, statesOf } from "./table.js";

/** @typedef {import("./table.js").Table} Table */
/** @typedef {import("../identify/key.js").Packed} Packed */
/** @typedef {import("../identify/key.js").Cell} Cell */

const ASSUMED = 0.08;
/** So many characters are shown at once; the others fold away. */
const FIRST = 12;
const WOOD = ["heat", "drying", "splitting", "burning", "lasting", "uses"];

/** Chances of the states of a known cell. @param {Exclude<Cell, 0>} cell */
function chances([eps, ...weights]) {
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const bare = weights.filter((weight) => !weight).length;
  return weights.map((weight) => (weight ? ((bare ? 1 - eps : 1) * weight) / total : eps / bare));
}

/**
 * Characters that separate these trees, with the bits each tells, the most telling first.
 * @param {Packed} key @param {number[]} trees @returns {{character: number, bits: number}[]}
 */
export function differences(key, trees) {
  const grains = (/** @type {number} */ value) => Math.floor(value / key.constants.grain + 0.5);
  const found = key.characters.flatMap(([, , , error], character) => {
    const rows = trees.flatMap((tree) => {
      const cell = cellOf(key, character, tree);
      return cell ? [chances(cell).map((p, _, all) => (1 - error) * p + error / all.length)] : [];
    });
    if (rows.length < 2) return [];
    const mean = rows[0].map((_, state) => rows.reduce((sum, row) => sum + row[state], 0) / rows.length);
    const bits = rows.flatMap((row) => row.map((q, state) => q * Math.log2(q / mean[state]))).reduce((sum, part) => sum + part, 0) / rows.length;
    return grains(bits) >= grains(key.constants.leastGain) ? [{ character, bits }] : [];
  });
  return found.sort((a, b) => grains(b.bits) - grains(a.bits) || a.character - b.character);
}

/** @param {Table} table @param {Packed} key @param {number} character @param {number} tree */
function shown(table, key, character, tree) {
  const { ui } = table;
  const cell = cellOf(key, character, tree);
  if (!cell) return [made("span", { className: "quiet", textContent: cell === null ? ui.unknown : ui.hasNone })];
  const { usual, also } = statesOf(cell);
  return [
    ...drawn(table, character, usual),
    ...(also.length ? [made("small", { textContent: filled(ui.also, { states: labels(table, character, also) }) })] : []),
    ...(cell[0] === ASSUMED ? [made("small", { className: "quiet", textContent: ui.assumed })] : []),
  ];
}

/** A line of the comparison: what it is about, then a cell a tree; `words` cells stand under one another. @param {Table} table @param {number[]} trees @param {string} label @param {string} pill @param {(tree: number) => (Node | string)[]} cell @param {boolean} [words] */
function side(table, trees, label, pill, cell, words = false) {
  const head = made("p", { className: "hint", textContent: label });
  if (pill) head.append(" ", made("span", { className: "pill", textContent: pill }));
  return made(
    "li",
    { className: "species-pair" },
    head,
    made(
      "div",
      { className: words ? "species-sides is-words" : `species-sides is-${trees.length}` },
      ...trees.map((tree) => made("div", { className: "species-side" }, made("span", { className: "species-whose", textContent: table.sheets[tree][1] }), ...cell(tree))),
    ),
  );
}

/** Rows of the wood that are not the same in all. @param {Table} table @param {number[]} trees */
function woodRows(table, trees) {
  const { strings, ui } = table;
  return WOOD.flatMap((kind) => {
    const rows = trees.map((tree) => new Map((table.sheets[tree][3].find(([id]) => id === kind)?.[2] ?? []).map((row) => [row[0], row])));
    const names = [...new Set(rows.flatMap((of) => [...of.keys()]))];
    return names.flatMap((name) => {
      const words = rows.map((of) => of.get(name)?.[2].map(([said]) => strings[said]).join("; ") ?? "");
      if (new Set(words).size === 1) return [];
      const label = rows.map((of) => of.get(name)?.[1]).find((at) => at !== undefined);
      return [side(table, trees, strings[/** @type {number} */ (label)], "", (tree) => [made("strong", { textContent: words[trees.indexOf(tree)] || ui.unknown })], true)];
    });
  });
}

/** When each is dry, stacked in spring or in autumn; nothing where it is not known of all. @param {Table} table @param {number[]} trees */
function dryRows(table, trees) {
  const cells = trees.map((tree) => table.drying[table.sheets[tree][5]]);
  if (cells.some((one) => !one)) return [];
  return [3, 9].map((month) =>
    side(
      table,
      trees,
      `${table.ui.dry} ${table.months[month]}`,
      "",
      (tree) => {
        const [main, span] = cells[trees.indexOf(tree)][month];
        return [made("strong", { textContent: `${main} (${span})` })];
      },
      true,
    ),
  );
}

/** @param {Table} table @param {Packed} key @param {number[]} trees */
export function comparison(table, key, trees) {
  const { ui, sheets, strings } = table;
  const names = trees.map((tree) => sheets[tree][1]);
  const pairs = trees.flatMap((tree, at) => sheets[tree][4].filter(([other]) => trees.indexOf(other) > at).map((alike) => ({ tree, alike })));
  const settling = new Set(key.pairs.flatMap(([a, b, characters]) => (trees.includes(a) && trees.includes(b) ? characters : [])));
  const looks = differences(key, trees).map(({ character }) =>
    side(table, trees, table.characters[character][0], settling.has(character) ? ui.settles : "", (tree) => shown(table, key, character, tree)),
  );
  const wood = [...woodRows(table, trees), ...dryRows(table, trees)];
  return [
    made("div", { className: "head" }, made("h1", { textContent: filled(ui.title, { names: names.join(" / ") }) })),
    made("div", { className: "buttons" }, ...trees.map((tree) => made("a", { className: "button", href: `/species/${sheets[tree][0]}`, textContent: sheets[tree][1] }))),
    ...pairs.map(({ alike }) => made("p", { className: "warn", textContent: strings[alike[1]] })),
    made("h2", { className: "section", textContent: ui.differ }),
    made("p", { className: "quiet", textContent: looks.length ? ui.told : ui.nothing }),
    made("ul", { className: "species-pairs" }, ...looks.slice(0, FIRST)),
    ...(looks.length > FIRST
      ? [made("details", { className: "more" }, made("summary", { textContent: ui.more }), made("ul", { className: "inside species-pairs" }, ...looks.slice(FIRST)))]
      : []),
    made("h2", { className: "section", textContent: ui.differWood }),
    made("p", { className: "quiet", textContent: wood.length ? ui.sheets : ui.nothingWood }),
    ...trees.flatMap((tree) => (strings[sheets[tree][6]] ? [made("p", { className: "warn", textContent: strings[sheets[tree][6]] })] : [])),
    made("ul", { className: "species-pairs" }, ...wood),
  ];
}
