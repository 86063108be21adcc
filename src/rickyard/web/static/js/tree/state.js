// @ts-check
/** What was answered about the tree at hand. It lasts on the phone until another tree is begun. */

/** @typedef {import("../identify/key.js").Answer} Answer */
/** @typedef {{situations: string[], region: string | null, street: boolean, answers: Answer[], notSeen: string[]}} Said */

const KEPT = "tree-said";
const VERDICT = "tree-verdict";

export class State {
  /** @param {string | null} region the yard's own */
  constructor(region) {
    this.fresh = { situations: [], region, street: false, answers: [], notSeen: [] };
    /** @type {Said[]} */
    this.past = [];
    /** @type {Said} */
    this.now = { ...this.fresh, ...JSON.parse(localStorage.getItem(KEPT) ?? "{}") };
  }

  /** @param {Partial<Said>} change */
  set(change) {
    this.past.push(this.now);
    this.#keep({ ...this.now, ...change });
  }

  /** The answer takes the place of an earlier one about the same character. @param {Answer} answer */
  answer(answer) {
    const others = this.now.answers.filter(({ character }) => character !== answer.character);
    this.set({ answers: [...others, answer], notSeen: this.now.notSeen.filter((name) => name !== answer.character) });
  }

  /** @param {string} character */
  takeBack(character) {
    this.set({ answers: this.now.answers.filter((answer) => answer.character !== character) });
  }

  undo() {
    const before = this.past.pop();
    if (before) this.#keep(before);
  }

  /** Another tree: where it stood stays, for the next log is mostly of the same load. */
  over() {
    this.set({ answers: [], notSeen: [] });
  }

  /** @param {Said} said */
  #keep(said) {
    this.now = said;
    localStorage.setItem(KEPT, JSON.stringify(said));
  }
}

/** The wood that the key has named lately, and from what, for the forms that ask for one. @returns {{wood: string, seen?: string, at: number} | null} */
export function lately() {
  return JSON.parse(localStorage.getItem(VERDICT) ?? "null");
}

/** @param {string} wood as the yard's book calls it; empty if nothing is named @param {string} seen what it was named by */
export function remember(wood, seen) {
  if (wood) localStorage.setItem(VERDICT, JSON.stringify({ wood, seen, at: Date.now() }));
  else localStorage.removeItem(VERDICT);
}
