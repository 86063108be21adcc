// @ts-check
/** One question with its drawings: a tap answers; "either of several", doubt and "can't see it" stand below. */

import { made } from "./made.js";

/** @typedef {import("../identify/key.js").Answer} Answer */
/** @typedef {{question: string, how: string, states: [string, string, string?, string?][]}} Question */
/**
 * @typedef {{ui: Record<string, string>, characters: Record<string, Question>, species: Record<string, [string, string, string]>,
 *   groups: Record<string, string>, notes: string[], advice: Record<string, string>, kinds: Record<string, string>, table: string,
 *   counts: Record<string, number>, exponent: number, unnamed: string[]}} Words
 */

/** Sure, not quite, a guess. */
const DOUBTS = [0, 0.3, 0.6];

/**
 * @param {string} character @param {Words} words
 * @param {{open: boolean, settles: boolean, before?: Answer, answer: (answer: Answer) => void, cannotSee: () => void}} to
 */
export function card(character, words, to) {
  const { ui } = words;
  const { question, how, states } = words.characters[character];
  const chosen = new Set(to.before?.states ?? []);
  let several = chosen.size > 1;
  let doubt = Math.max(0, DOUBTS.indexOf(to.before?.doubt ?? 0));
  const give = () => to.answer({ character, states: [...chosen], doubt: DOUBTS[doubt] });

  const tiles = states.map(([state, label, picture, alt]) => {
    const tile = made("button", { type: "button", className: "tree-state" });
    tile.dataset.state = state;
    if (picture) tile.append(made("img", { src: picture, alt, width: 96, height: 96, loading: "lazy" }));
    tile.append(made("span", { textContent: label }));
    tile.addEventListener("click", () => {
      if (!several) chosen.clear();
      if (!chosen.delete(state)) chosen.add(state);
      if (several) show();
      else give();
    });
    return tile;
  });
  const either = made("button", { type: "button", textContent: ui.either });
  either.addEventListener("click", () => {
    several = !several;
    show();
  });
  const sure = [ui.sure, ui.fairly, ui.guess].map((textContent, at) => {
    const button = made("button", { type: "button", textContent });
    button.addEventListener("click", () => {
      doubt = at;
      show();
    });
    return button;
  });
  const done = made("button", { type: "button", className: "is-main", textContent: ui.done, onclick: give });
  const unseen = made("button", { type: "button", textContent: ui.cannotSee, onclick: to.cannotSee });

  const show = () => {
    for (const tile of tiles) tile.ariaPressed = String(chosen.has(tile.dataset.state ?? ""));
    either.ariaPressed = String(several);
    for (const [at, button] of sure.entries()) button.ariaPressed = String(at === doubt);
    // A changed doubt alone is an answer too.
    done.hidden = !chosen.size || !(several || to.before);
  };
  show();

  const pill = to.settles ? [made("span", { className: "pill", textContent: ui.settles })] : [];
  const whole = made(
    "details",
    { className: "more tree-card", open: to.open },
    made("summary", {}, made("span", { textContent: question }), ...pill),
    made(
      "div",
      { className: "inside" },
      made("p", { className: "hint", textContent: how }),
      made("div", { className: "tree-sure", role: "group", ariaLabel: ui.howSure }, ...sure),
      made("div", { className: "tree-states" }, ...tiles),
      made("div", { className: "buttons" }, done, unseen, either),
    ),
  );
  whole.dataset.character = character;
  return whole;
}
