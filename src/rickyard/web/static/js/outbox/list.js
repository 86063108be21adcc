// @ts-check
/** The outbox as a page, and the count in the header. */

import { nameOf } from "./who.js";

/** @typedef {import("./store.js").Store} Store */
/** @typedef {import("./store.js").Entry} Entry */
/** @typedef {Record<string, string>} Words */

/** @param {string} tag @param {Record<string, unknown>} [set] @param {(Node | string)[]} within */
function made(tag, set = {}, ...within) {
  const element = Object.assign(document.createElement(tag), set);
  element.append(...within);
  return element;
}

/** @param {number} at @param {string} lang */
export function momentWords(at, lang) {
  return new Intl.DateTimeFormat(lang, { dateStyle: "medium", timeStyle: "short" }).format(at);
}

/** @param {string} text @param {Record<string, string>} values */
export function filled(text, values) {
  return text.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);
}

export class List {
  /**
   * @param {Store} store @param {Words} words
   * @param {{send: () => void, who: () => string, changed: () => void}} by
   */
  constructor(store, words, by) {
    this.store = store;
    this.words = words;
    this.by = by;
  }

  async show() {
    const entries = await this.store.entries();
    const open = entries.filter((entry) => entry.state !== "done");
    const badge = document.getElementById("outbox-badge");
    if (badge) {
      badge.hidden = !open.length;
      const needs = open.filter((entry) => entry.state === "needs").length;
      badge.classList.toggle("is-hot", needs > 0);
      badge.textContent = filled(needs ? this.words.badgeNeeds : this.words.badge, {
        count: String(needs || open.length),
      });
    }
    const place = document.getElementById("outbox");
    if (!place) return;
    const empty = document.getElementById("outbox-empty");
    if (empty) empty.hidden = entries.length > 0;
    place.replaceChildren(...entries.reverse().map((entry) => this.#item(entry)));
  }

  /** @param {Entry} entry */
  #item(entry) {
    const id = /** @type {number} */ (entry.id);
    const { words } = this;
    const { lang } = document.documentElement;
    const other = entry.state !== "done" && entry.who !== this.by.who();
    const state = other ? filled(words.other, { name: entry.whoName || nameOf(entry.who) || words.nobody }) : words[entry.state];
    const said = entry.fields
      .flatMap(([, value]) => (typeof value === "string" && value.trim() ? [value.trim()] : []))
      .slice(0, 6)
      .join(" · ");
    const actions = made("div", { className: "buttons" });
    if (entry.state === "needs") {
      actions.append(made("a", { className: "button is-main", href: `${entry.page}#outbox-${id}`, textContent: words.open }));
    }
    if (entry.state === "done" && entry.go) {
      actions.append(made("a", { className: "button", href: entry.go, textContent: words.look }));
    }
    if (entry.state === "waiting" && !other) {
      actions.append(made("button", { type: "button", textContent: words.sendNow, onclick: () => this.by.send() }));
    }
    if (entry.state === "waiting" || entry.state === "needs") {
      const away = made("button", { type: "button", textContent: words.throwAway });
      let sure = false;
      away.addEventListener("click", async () => {
        if (!sure) {
          sure = true;
          away.textContent = words.sure;
          return;
        }
        await this.store.drop(id);
        this.by.changed();
      });
      actions.append(away);
    }
    const item = made(
      "li",
      { className: `card outbox-entry is-${other ? "waiting" : entry.state}` },
      made("strong", { textContent: entry.title }),
      made("span", { className: "pill", textContent: state }),
      made("p", { className: "hint", textContent: momentWords(entry.happenedAt, lang) }),
      made("p", { textContent: said, translate: false }),
      ...entry.complaints.map(({ label, text }) => made("p", { className: "error", textContent: label ? `${label}: ${text}` : text })),
      actions,
    );
    item.dataset.state = entry.state;
    item.dataset.key = entry.key;
    return item;
  }
}
