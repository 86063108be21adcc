// @ts-check
/** One tree's sheet. */

import { filled } from "../outbox/list.js";
import { made } from "../tree/made.js";
import { cellOf, statesOf } from "./table.js";

/** @typedef {import("./table.js").Table} Table */
/** @typedef {import("./table.js").Sheet} Sheet */
/** @typedef {import("../identify/key.js").Packed} Packed */

/** The numbers of sources, as in the list at the end. @param {readonly number[]} refs */
function marks(refs) {
  return refs.length ? [made("span", { className: "species-ref", textContent: `[${refs.join(", ")}]` })] : [];
}

/**
 * The states of a character, drawn.
 * @param {Table} table @param {number} character @param {number[]} states
 */
export function drawn(table, character, states) {
  const [, ...all] = table.characters[character];
  return states.map((at) => {
    const [label, picture, alt] = all[at];
    const shown = made("span", { className: "species-state" });
    if (picture) shown.append(made("img", { src: picture, alt, width: 80, height: 80, loading: "lazy" }));
    shown.append(made("strong", { textContent: label }));
    return shown;
  });
}

/** @param {Table} table @param {number} character @param {number[]} states */
export function labels(table, character, states) {
  const [, ...all] = table.characters[character];
  return states.map((at) => all[at][0]).join(", ");
}

/** @param {Table} table @param {Packed} key @param {number} tree @param {import("./table.js").Look} look */
function looked(table, key, tree, [character, refs, chosen]) {
  const { usual, also } = chosen ? { usual: chosen, also: [] } : statesOf(cellOf(key, character, tree));
  const words = made("p", { className: "species-said" }, ...(also.length ? [filled(table.ui.also, { states: labels(table, character, also) }), " "] : []), ...marks(refs));
  return made(
    "li",
    { className: `species-look${usual.length > 1 ? " is-several" : ""}` },
    made("p", { className: "hint", textContent: table.characters[character][0] }),
    made("div", { className: "species-states" }, ...drawn(table, character, usual)),
    words,
  );
}

/** @param {Table} table @param {import("./table.js").Row} row */
function line(table, [, label, claims, note]) {
  const say = (/** @type {number} */ at) => table.strings[at];
  const said = claims.map(([words, ...refs]) => made("p", {}, say(words), " ", ...marks(refs)));
  const small = note === undefined ? [] : [made("small", { textContent: say(note) })];
  return made("div", { className: "species-row" }, made("dt", { textContent: say(label) }), made("dd", {}, ...said, ...small));
}

/** The months of stacking, each with the month in which it is dry. @param {Table} table @param {import("./table.js").Cells} cells */
function calendar(table, cells) {
  return made(
    "ol",
    { className: "species-dry" },
    ...cells.map(([main, span], month) =>
      made("li", {}, made("span", { textContent: table.months[month] }), made("strong", { textContent: main }), made("small", { textContent: span })),
    ),
  );
}

/**
 * When it is dry at the yard: what is kept at once, and the yard's computer's answer when it is there.
 * @param {Table} table @param {Sheet} sheet
 */
function dries(table, [id, , , , , wood]) {
  const { ui } = table;
  const place = made("div", { className: "species-dries", ariaLive: "polite" });
  const show = (/** @type {import("./table.js").Cells} */ cells, /** @type {string} */ day) =>
    place.replaceChildren(
      made("p", { className: "quiet", textContent: ui.dry }),
      calendar(table, cells),
      made("p", { className: "hint", textContent: `${table.dryingLead} ${filled(ui.asOf, { day })}` }),
    );
  const tell = (/** @type {string} */ words) => place.replaceChildren(made("p", { className: "quiet", textContent: words }));
  const kept = table.drying[wood];
  if (kept) {
    show(kept, table.made);
    return place;
  }
  tell(ui.dryWaits);
  const ask = async () => {
    const answer = await fetch(`/species/${id}/drying.json`).then((got) => (got.ok ? got.json() : { state: "failed" }), () => ({ state: "away" }));
    if (answer.state === "ready") show(answer.cells, answer.made);
    else if (answer.state === "waiting") setTimeout(ask, 2_000);
    else tell({ none: ui.dryNone, away: ui.dryAway }[/** @type {string} */ (answer.state)] ?? ui.dryFailed);
  };
  ask();
  return place;
}

/** @param {Table} table @param {Packed} key @param {number} tree */
export function sheetOf(table, key, tree) {
  const { ui, strings } = table;
  const sheet = table.sheets[tree];
  const [id, name, scientific, parts, alike, , standsIn, sources] = sheet;
  const shown = parts.flatMap((part) => {
    const [kind, title, rows, looks, notes] = part;
    const within = [
      ...(looks.length ? [made("ul", { className: "species-looks" }, ...looks.map((look) => looked(table, key, tree, look)))] : []),
      ...(rows.length ? [made("dl", { className: "species-rows" }, ...rows.map((row) => line(table, row)))] : []),
      ...(kind === "drying" ? [dries(table, sheet)] : []),
      ...notes.map((note) => made("p", { className: "quiet", textContent: strings[note] })),
    ];
    return [
      ...(kind === "heat" ? taken(table, tree, alike) : []),
      ...(kind === "heat" && strings[standsIn] ? [made("p", { className: "warn", textContent: strings[standsIn] })] : []),
      // What stands, what lies, what is split: one of them is in front of the reader, the others fold away.
      kind in key.situations
        ? made("details", { className: "more", id: `part-${kind}`, open: kind === "leaf" }, made("summary", { textContent: strings[title] }), made("div", { className: "inside" }, ...within))
        : made("section", { className: "species-part", id: `part-${kind}` }, made("h2", { className: "section", textContent: strings[title] }), ...within),
    ];
  });
  return [
    made("div", { className: "head" }, made("h1", { textContent: name }), made("p", { className: "lead", translate: false }, made("em", { textContent: scientific }))),
    made("div", { className: "buttons" }, made("a", { className: "button", href: `/species/${id}.pdf`, textContent: ui.print })),
    ...shown,
    made(
      "details",
      { className: "more", id: "sources" },
      made("summary", { textContent: ui.sources }),
      made("ol", { className: "inside species-sources" }, ...sources.map((source) => made("li", { textContent: strings[source] }))),
    ),
  ];
}

/** Trees that it is taken for. @param {Table} table @param {number} tree @param {import("./table.js").Alike[]} alike */
function taken(table, tree, alike) {
  const { ui, strings, sheets } = table;
  const mine = sheets[tree][0];
  if (!alike.length) return [];
  return [
    made(
      "section",
      { className: "species-part", id: "part-alike" },
      made("h2", { className: "section", textContent: ui.alike }),
      ...alike.map(([other, note, ...refs]) => {
        const [id, name] = sheets[other];
        return made(
          "div",
          { className: "card is-quiet" },
          made("h3", { textContent: name }),
          made("p", {}, strings[note], " ", ...marks(refs)),
          made(
            "div",
            { className: "buttons" },
            made("a", { className: "button", href: `/species/compare?of=${mine}&of=${id}`, textContent: ui.compare }),
            made("a", { className: "button", href: `/species/${id}`, textContent: ui.sheet }),
          ),
        );
      }),
    ),
  ];
}
