// @ts-check
/** The page that names trees: what to look at next, what was said, what it may be. All reckoned here. */

import { Key } from "../identify/key.js";
import { filled } from "../outbox/list.js";
import { card } from "./card.js";
import { Keep } from "./keep.js";
import { lookAlikes, outList, stillIn } from "./leads.js";
import { made, place } from "./made.js";
import { remember, State } from "./state.js";

/** @typedef {import("../identify/key.js").Posterior} Posterior */
/** @typedef {import("./card.js").Words} Words */

const SHOWN = 5;
const FOR = 1.5;
const AGAINST = 1 / 1.5;

class Page {
  /** @param {Key} key @param {Words} words */
  constructor(key, words) {
    this.key = key;
    this.words = words;
    this.form = /** @type {HTMLFormElement} */ (place("tree-start"));
    this.state = new State(this.#field("grew_in").value || null);
    /** The answer that is being changed. */
    this.changing = "";
    // Whoever may not put trees into the book has no form for it.
    this.keep = document.getElementById("seen-form") && new Keep(words, (said) => this.#then(() => this.state.set({ ...this.state.now, ...said })));
    this.percent = new Intl.NumberFormat(document.documentElement.lang, { style: "percent" });
  }

  /** @param {string} name @returns {HTMLInputElement} */
  #field(name) {
    return /** @type {HTMLInputElement} */ (this.form.elements.namedItem(name));
  }

  start() {
    this.#showStart();
    this.form.addEventListener("submit", (event) => event.preventDefault());
    this.form.addEventListener("change", () => {
      const situations = [...this.form.querySelectorAll("[name=situation]")].flatMap((box) =>
        box instanceof HTMLInputElement && box.checked ? [box.value] : [],
      );
      this.state.set({ situations, region: this.#field("grew_in").value || null, street: this.#field("street_tree").checked });
      this.show();
    });
    place("tree-undo").addEventListener("click", () => this.#then(() => this.state.undo()));
    place("tree-over").addEventListener("click", () => this.#then(() => this.state.over()));
    this.show();
    document.documentElement.dataset.treeReady = "";
  }

  /** An answer may have been tapped far down a long card: what it came to is brought before the eyes. @param {() => void} change */
  #answer(change) {
    this.#then(change);
    place("tree-verdict").scrollIntoView({ block: "start" });
  }

  /** @param {() => void} change */
  #then(change) {
    change();
    this.changing = "";
    this.#showStart();
    this.show();
  }

  #showStart() {
    const { situations, region, street } = this.state.now;
    for (const box of this.form.querySelectorAll("[name=situation]")) {
      if (box instanceof HTMLInputElement) box.checked = situations.includes(box.value);
    }
    this.#field("grew_in").value = region ?? "";
    this.#field("street_tree").checked = street;
  }

  show() {
    const { situations, region, street, answers, notSeen } = this.state.now;
    const post = this.key.posterior(answers, { region, street, counts: this.words.counts }, this.words.exponent);
    this.#showVerdict(post);
    this.#showLooks(post, situations, notSeen);
    this.#showRanking(post);
    this.#showSaid();
    place("tree-buttons").hidden = !this.state.past.length && !answers.length;
  }

  /** @param {string} id */
  #name(id) {
    return this.words.species[id][0];
  }

  /** @param {string} character @param {string[]} states */
  #labels(character, states) {
    const labels = this.words.characters[character].states.flatMap(([state, label]) => (states.includes(state) ? [label] : []));
    return labels.join(` ${this.words.ui.or} `);
  }

  /** @param {Posterior} post */
  #showVerdict(post) {
    const { ui } = this.words;
    const said = this.key.verdict(post, this.state.now.situations, this.state.now.notSeen);
    const share = this.percent.format(said.probability);
    const leader = this.#name(this.key.species[post.ranking[0]].id);
    const parts = [];
    let wood = "";
    let name = "";
    if (!post.answers.length) parts.push(made("p", { textContent: ui.start }));
    else if (said.level === "undecided") {
      parts.push(made("h2", { textContent: ui.undecided }), made("p", { textContent: filled(ui.leading, { name: leader, share }) }));
    } else {
      const isSpecies = said.level === "species";
      name = isSpecies ? this.#name(said.name) : this.words.groups[said.name];
      wood = isSpecies ? this.words.species[said.name][1] : name;
      parts.push(made("h2", { textContent: filled(isSpecies ? ui.species : ui.group, { name, share }) }));
    }
    this.keep?.show(this.state.now, name, wood);
    if (this.keep) remember(wood, this.keep.seen);
    if (this.key.grains(post.notListed) > this.key.grains(this.key.set.notListedSays)) {
      parts.push(made("p", { className: "warn", textContent: filled(ui.notListed, { share: this.percent.format(post.notListed) }) }));
    }
    parts.push(...this.#again(post, leader));
    if (said.stop && said.level !== "species") parts.push(made("p", { textContent: ui.stop }));
    else if (said.elsewhere && post.answers.length) parts.push(made("p", { textContent: this.words.advice[this.words.kinds[said.elsewhere]] }));
    const pair = this.key.leadingPair(post);
    if (pair >= 0) {
      const [first, second] = this.key.pairs[pair].slice(0, 2).map((row) => this.#name(this.key.species[Number(row)].id));
      parts.push(made("p", {}, made("strong", { textContent: filled(ui.lookAlikes, { first, second }) }), ` ${this.words.notes[pair]}`));
    }
    const woodIn = document.getElementById("tree-wood-in");
    if (wood && woodIn instanceof HTMLAnchorElement) {
      const href = `${woodIn.pathname}#wood=${encodeURIComponent(wood)}`;
      parts.push(made("div", { className: "buttons" }, made("a", { className: "button is-main", href, textContent: ui.use })));
    }
    if (post.answers.length) parts.push(this.#sheets(post, said));
    place("tree-verdict").replaceChildren(...parts);
    place("tree-leads").replaceChildren(
      ...(post.answers.length
        ? lookAlikes(this.key, post, said.species, this.words, {
            percent: (part) => this.percent.format(part),
            said: (character) => this.#answered(character),
            look: (character) => this.#change(character),
          })
        : []),
    );
  }

  /** What was said to a character, in words; empty if nothing was. @param {string} character */
  #answered(character) {
    const answer = this.state.now.answers.find((one) => one.character === character);
    return answer ? this.#labels(character, answer.states) : "";
  }

  /** The sheet of the tree that is named, and the likeliest side by side. @param {Posterior} post @param {import("../identify/key.js").Verdict} said */
  #sheets(post, said) {
    const link = (/** @type {string} */ href, /** @type {string} */ textContent) => made("a", { className: "button", href, textContent });
    const sheet = said.level === "species" ? [link(`/species/${said.name}`, this.words.ui.sheet)] : [];
    const likeliest = post.ranking.slice(0, said.level === "species" ? 2 : 3).map((row) => `of=${this.key.species[row].id}`);
    return made("div", { className: "buttons" }, ...sheet, link(`/species/compare?${likeliest.join("&")}`, this.words.ui.compare));
  }

  /** Answers to look at again, and pairs that contradict. @param {Posterior} post @param {string} leader */
  #again(post, leader) {
    const { ui, characters } = this.words;
    const question = (/** @type {string} */ name) => characters[name].question;
    const odd = this.key.surprises(post);
    const bad = this.key.bad(post);
    const lost =
      this.key.grains(post.notListed) > this.key.grains(this.key.set.notListedSays)
        ? post.answers.flatMap(({ character }, at) => (bad[at].every(Boolean) ? [character] : []))
        : [];
    const lines = [...new Set([...odd, ...lost])].map((name) =>
      made(
        "p",
        { className: "warn" },
        made("span", { textContent: filled(lost.includes(name) ? ui.againNothing : ui.again, { question: question(name), name: leader }) }),
        made("button", { type: "button", textContent: ui.change, onclick: () => this.#change(name) }),
      ),
    );
    const pairs = this.key
      .contradictions(post)
      .map(([first, second]) => made("p", { className: "warn", textContent: filled(ui.pair, { first: question(first), second: question(second) }) }));
    return [...lines, ...pairs];
  }

  /** @param {string} name */
  #change(name) {
    this.changing = name;
    this.show();
    place("tree-looks").scrollIntoView({ block: "start" });
  }

  /** @param {Posterior} post @param {string[]} situations @param {string[]} notSeen */
  #showLooks(post, situations, notSeen) {
    const looks = this.key.nextLooks(post, situations, { notSeen });
    const names = this.changing ? [this.changing] : looks.map(({ character }) => character);
    const settling = new Set(looks.filter(({ settles }) => settles).map(({ character }) => character));
    const cards = names.map((name, at) =>
      card(name, this.words, {
        open: at === 0,
        settles: settling.has(name),
        before: this.state.now.answers.find(({ character }) => character === name),
        answer: (answer) => this.#answer(() => this.state.answer(answer)),
        cannotSee: () => this.#answer(() => this.state.set({ notSeen: [...notSeen, name], answers: this.state.now.answers.filter(({ character }) => character !== name) })),
      }),
    );
    if (!cards.length) cards.push(made("p", { className: "empty", textContent: this.words.ui.nothingLeft }));
    place("tree-looks").replaceChildren(...cards);
  }

  /** The likeliest trees with bars; each says which answers speak for and against it. @param {Posterior} post */
  #showRanking(post) {
    const rows = post.ranking.slice(0, SHOWN).map((row) => {
      const { id } = this.key.species[row];
      const [name, , scientific] = this.words.species[id];
      const reasons = post.answers.map(({ character, states }, at) => {
        const chance = new Set(states).size / (this.key.at.get(character)?.states.length ?? 1);
        const ratio = post.q[at][row] / chance;
        const [sign, words] = ratio >= FOR ? ["+", this.words.ui.speaksFor] : ratio <= AGAINST ? ["−", this.words.ui.speaksAgainst] : ["·", this.words.ui.saysLittle];
        return made("li", {}, made("strong", { textContent: `${sign} `, ariaHidden: "true" }), `${this.#labels(character, states)}: ${words}`);
      });
      return made(
        "details",
        { className: "more tree-row" },
        made("summary", {}, made("span", { className: "tree-name", textContent: name }), this.#bar(post.species[row])),
        made("div", { className: "inside" }, made("p", { className: "quiet", textContent: scientific, translate: false }), made("ul", {}, ...reasons)),
      );
    });
    const rest = made("div", { className: "tree-row tree-rest" }, made("span", { className: "tree-name", textContent: this.words.ui.notListedRow }), this.#bar(post.notListed));
    const inside = stillIn(post);
    const { ui } = this.words;
    const still = made("p", { className: "quiet", textContent: filled(ui.still, { count: String(inside.length), whole: String(post.species.length) }) });
    const more = inside
      .slice(SHOWN)
      .map((row) => made("li", { textContent: filled(ui.odds, { name: this.#name(this.key.species[row].id), share: this.percent.format(post.species[row]) }) }));
    const others = more.length
      ? [
          made(
            "details",
            { className: "more" },
            made("summary", { textContent: filled(ui.more, { count: String(more.length) }) }),
            made("div", { className: "inside" }, made("ul", {}, ...more)),
          ),
        ]
      : [];
    const out = outList(this.key, post, this.words, (at) => this.#labels(post.answers[at].character, post.answers[at].states));
    place("tree-ranking").replaceChildren(...(post.answers.length ? [still, ...rows, rest, ...others, ...out] : []));
  }

  /** @param {number} share */
  #bar(share) {
    const picture = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    picture.setAttribute("viewBox", "0 0 100 12");
    picture.setAttribute("preserveAspectRatio", "none");
    picture.setAttribute("class", "odds-bar");
    picture.setAttribute("aria-hidden", "true");
    const bar = document.createElementNS(picture.namespaceURI, "rect");
    for (const [name, value] of Object.entries({ width: (100 * share).toFixed(1), height: "12", class: "odds-part is-good" })) {
      bar.setAttribute(name, value);
    }
    picture.append(bar);
    return made("span", { className: "tree-bar" }, picture, made("span", { className: "odds-words", textContent: this.percent.format(share) }));
  }

  #showSaid() {
    const { ui, characters } = this.words;
    const { answers, notSeen } = this.state.now;
    const lines = answers.map(({ character, states, doubt = 0 }) =>
      made(
        "li",
        { className: "card is-quiet" },
        made("p", { className: "quiet", textContent: characters[character].question }),
        made("p", {}, made("strong", { textContent: this.#labels(character, states) }), doubt ? ` (${doubt > 0.45 ? ui.guess : ui.fairly})` : ""),
        made(
          "div",
          { className: "buttons" },
          made("button", { type: "button", textContent: ui.change, onclick: () => this.#change(character) }),
          made("button", { type: "button", textContent: ui.takeBack, onclick: () => this.#then(() => this.state.takeBack(character)) }),
        ),
      ),
    );
    const unseen = notSeen.map((name) => characters[name].question);
    place("tree-said").replaceChildren(
      made("ul", { className: "tree-answers" }, ...lines.reverse()),
      ...(unseen.length
        ? [
            made("p", { className: "quiet", textContent: filled(ui.unseen, { list: unseen.join(" ") }) }),
            made("button", { type: "button", textContent: ui.askAgain, onclick: () => this.#then(() => this.state.set({ notSeen: [] })) }),
          ]
        : []),
    );
  }
}

/** @type {Words} */
const words = JSON.parse(place("tree-words").dataset.words ?? "{}");
const table = await (await fetch(words.table)).json();
new Page(new Key(table), words).start();
