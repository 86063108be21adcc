// @ts-check
/** What a verdict leads on to: which trees are out and by which answer, and look-alikes still to be ruled out. */

import { filled } from "../outbox/list.js";
import { made } from "./made.js";

/** @typedef {import("../identify/key.js").Key} Key */
/** @typedef {import("../identify/key.js").Posterior} Posterior */
/** @typedef {import("./card.js").Words} Words */

/** A tree this much less likely than the first is out. */
const OUT = 0.01;
const PAIRS = 3;

/** Rows that are still in, the likeliest first. @param {Posterior} post */
export function stillIn(post) {
  const least = OUT * post.species[post.ranking[0]];
  return post.ranking.filter((row) => post.species[row] >= least);
}

/**
 * The trees that are out, by the answer that spoke most against each.
 * @param {Key} key @param {Posterior} post @param {Words} words @param {(answer: number) => string} said
 */
export function outList(key, post, words, said) {
  const { ui } = words;
  const out = post.ranking.slice(stillIn(post).length);
  /** @type {Map<number, number[]>} */
  const by = new Map();
  for (const row of out) {
    let worst = -1;
    let least = 1;
    post.answers.forEach(({ character, states }, at) => {
      const ratio = (post.q[at][row] * (key.at.get(character)?.states.length ?? 1)) / new Set(states).size;
      if (ratio < least) [worst, least] = [at, ratio];
    });
    by.set(worst, [...(by.get(worst) ?? []), row]);
  }
  const lists = [...by]
    .sort(([a, first], [b, second]) => second.length - first.length || a - b)
    .map(([at, rows]) =>
      made(
        "p",
        {},
        made("strong", { textContent: `${at < 0 ? ui.outBefore : filled(ui.outBy, { answer: said(at) })} (${rows.length}): ` }),
        rows.map((row) => words.species[key.species[row].id][0]).join(", "),
      ),
    );
  if (!out.length) return [];
  return [
    made(
      "details",
      { className: "more" },
      made("summary", { textContent: filled(ui.out, { count: String(out.length) }) }),
      made("div", { className: "inside" }, ...lists),
    ),
  ];
}

/**
 * Look-alikes of what is said: what they are, how likely the other still is, and the characters that settle it.
 * @param {Key} key @param {Posterior} post @param {string[]} ids species of the verdict @param {Words} words
 * @param {{percent: (share: number) => string, said: (character: string) => string, look: (character: string) => void}} to
 */
export function lookAlikes(key, post, ids, words, to) {
  const { ui } = words;
  const name = (/** @type {number} */ row) => words.species[key.species[row].id][0];
  const meant = new Set(ids);
  const first = post.ranking[0];
  const found = key.pairs
    .map(([a, b, settling], at) => ({ a, b, settling, at, share: post.species[a] + post.species[b] }))
    .filter(({ a, b }) => a === first || b === first || (meant.has(key.species[a].id) && meant.has(key.species[b].id)))
    .sort((one, two) => two.share - one.share || one.at - two.at)
    .slice(0, PAIRS);
  if (!found.length) return [];
  const cards = found.map(({ a, b, settling, at }) => {
    const looks = settling.map((character) => {
      const { id } = key.characters[character];
      const { question } = words.characters[id];
      const before = to.said(id);
      if (before) return made("p", { className: "quiet", textContent: filled(ui.answered, { question, answer: before }) });
      return made("button", { type: "button", textContent: question, onclick: () => to.look(id) });
    });
    const odds = [a, b].map((row) => filled(ui.odds, { name: name(row), share: to.percent(post.species[row]) }));
    return made(
      "div",
      { className: "card is-quiet tree-pair" },
      made("h3", { textContent: odds.join(" · ") }),
      made("p", { textContent: words.notes[at] }),
      made("p", { className: "quiet", textContent: ui.settleBy }),
      made("div", { className: "buttons" }, ...looks),
    );
  });
  return [made("h2", { className: "section", textContent: ui.ruleOut }), ...cards];
}
