// @ts-check
/** Which sheet or comparison the address asks for; one kept page stands in for all of them without signal. */

import { made, place } from "../tree/made.js";
import { comparison } from "./compare.js";
import { sheetOf } from "./sheet.js";
import { read } from "./table.js";

const { table, key } = await read().catch((error) => {
  place("species-failed").hidden = false;
  throw error;
});
const at = new Map(table.sheets.map(([id], tree) => [id, tree]));
key.species.forEach(([short], tree) => at.set(short, tree));

const path = decodeURIComponent(location.pathname.replace(/^\/species\//, ""));
const comparing = path === "compare";
const asked = comparing ? new URLSearchParams(location.search).getAll("of") : [path];
const trees = [...new Set(asked.flatMap((name) => at.get(name) ?? []))].slice(0, 3);

/** The page keeps its heading where there is nothing to show. @param {string} why */
const nothing = (why) => [...place("species-sheet").children, made("p", { className: "empty", textContent: why })];

const shown = comparing
  ? trees.length > 1
    ? comparison(table, key, trees)
    : nothing(table.ui.few)
  : trees.length
    ? sheetOf(table, key, trees[0])
    : nothing(table.ui.noTree);
place("species-sheet").replaceChildren(...shown);
const title = document.querySelector("#species-sheet h1")?.textContent;
if (title) document.title = `${title} · Rickyard`;

document.documentElement.dataset.speciesReady = "";
