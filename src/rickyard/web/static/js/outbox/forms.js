// @ts-check
/**
 * Forms marked `data-outbox`: kept on the phone first, then sent; typed again from a draft or a refusal.
 *
 * After a form that is marked `data-outbox-stay` too the page stays: the form says `outbox-kept`, and what came of it
 * with `outbox-sent` (its detail is the entry's state).
 */

import { addLine, complain, fillIn, typed } from "./fields.js";
import { shrink } from "./photo.js";
import { askToLast, isFull, withRoom } from "./room.js";
import { cookie, nameOf } from "./who.js";

/** @typedef {import("./store.js").Store} Store */
/** @typedef {import("./store.js").Entry} Entry */
/** @typedef {import("./sender.js").Sender} Sender */
/** @typedef {Record<string, string>} Words */

/** An answer within this time is shown at once; what takes longer goes on behind. */
const SHOWN_WITHIN_MS = 8_000;
const DRAFT_AFTER_MS = 300;

/** @param {Date} day */
function isoDay(day) {
  return `${day.getFullYear()}-${String(day.getMonth() + 1).padStart(2, "0")}-${String(day.getDate()).padStart(2, "0")}`;
}

export class Forms {
  /** @param {Store} store @param {Sender} sender @param {Words} words */
  constructor(store, sender, words) {
    this.store = store;
    this.sender = sender;
    this.words = words;
    /** @type {Entry | undefined} a refused deed that is being put right */
    this.entry = undefined;
    /** @type {HTMLFormElement | undefined} the form in which it is put right */
    this.open = undefined;
    /** @type {number | undefined} */
    this.timer = undefined;
  }

  async start() {
    document.addEventListener("submit", (event) => this.#submitted(event), true);
    document.addEventListener("input", (event) => this.#typing(event));
    document.addEventListener("visibilitychange", () => this.#saveDraft());
    for (const box of document.querySelectorAll("[data-needs-outbox]")) box.removeAttribute("hidden");
    await this.#restore();
  }

  /** @param {SubmitEvent} event */
  #submitted(event) {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || form.dataset.outbox === undefined) return;
    const button = event.submitter instanceof HTMLButtonElement ? event.submitter : null;
    if (button?.name === "more" && addLine(form)) {
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    // A named button asks the server something and does no deed.
    if (button?.name) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (button) button.disabled = true;
    this.#keep(form)
      .catch((error) => {
        const text = isFull(error) ? this.words.full : `${this.words.notKept} (${error})`;
        complain(form, [{ field: "", label: "", text }], this.words.heading);
      })
      .finally(() => {
        if (button) button.disabled = false;
      });
  }

  /** @param {HTMLFormElement} form */
  async #keep(form) {
    clearTimeout(this.timer);
    await askToLast();
    const { lang, dataset } = document.documentElement;
    const action = new URL(form.action);
    // Bare numbers mean what this page says beside the box, whatever is chosen when they are sent.
    action.searchParams.set("lang", dataset.locale ?? lang);
    action.searchParams.set("units", dataset.units ?? "");
    const fields = typed(form);
    const refused = this.open === form ? this.entry : undefined;
    /** @type {(own: Partial<Entry>) => Entry} */
    const made = (own) => ({
      key: crypto.randomUUID(),
      title: form.dataset.outbox || document.title,
      action: action.pathname + action.search,
      page: location.pathname + location.search,
      who: cookie("who"),
      whoName: nameOf(cookie("who")),
      happenedAt: refused?.happenedAt ?? Date.now(),
      fields: [],
      state: "waiting",
      tries: 0,
      complaints: [],
      go: "",
      after: "",
      ...own,
    });
    const plain = fields.filter(([name]) => name !== "photo");
    const photos = await Promise.all(
      fields
        .filter(([name]) => name === "photo")
        .map(([, file]) => this.#photo(/** @type {File} */ (file), fields.some(([name]) => name === "keep_place"))),
    );
    const again = refused ? { id: refused.id, key: refused.key } : {};
    let entries;
    if (action.pathname === "/photos/new" && photos.length) {
      entries = photos.map((photo, n) => made({ fields: [...plain, ...photo], ...(n ? {} : again) }));
    } else {
      const deed = made({ fields: plain, ...again });
      const subject = /** @type {const} */ (["subject", `deed-${deed.key}`]);
      entries = [
        deed,
        ...photos.map((photo) =>
          made({ title: this.words.photo, action: "/photos/new", after: deed.key, fields: [[...subject], ...photo] }),
        ),
      ];
    }
    await withRoom(() => this.store.keepAll(entries));
    await this.store.dropDraft(this.#draftId(form));
    if (refused) this.entry = this.open = undefined;
    await this.#follow(form, entries[0]);
  }

  /** @param {File} taken @param {boolean} keepPlace @returns {Promise<import("./store.js").Field[]>} */
  async #photo(taken, keepPlace) {
    const { file, takenAt, latitude, longitude } = await shrink(taken);
    /** @type {import("./store.js").Field[]} */
    const fields = [
      ["photo", file],
      ["taken_at", takenAt],
    ];
    if (keepPlace && latitude && longitude) fields.push(["latitude", latitude], ["longitude", longitude]);
    return fields;
  }

  /** Waits a moment for what comes of it; whatever comes later stands in the outbox.
   * @param {HTMLFormElement} form @param {Entry} entry */
  async #follow(form, entry) {
    const id = /** @type {number} */ (entry.id);
    const stay = form.dataset.outboxStay !== undefined;
    /** @param {string} name @param {string} [detail] */
    const say = (name, detail) => form.dispatchEvent(new CustomEvent(name, { bubbles: true, detail }));
    if (stay) say("outbox-kept");
    await Promise.race([this.sender.send(), new Promise((resolve) => setTimeout(resolve, SHOWN_WITHIN_MS))]);
    const now = await this.store.entry(id);
    if (now?.state === "needs") this.#open(form, now);
    else if (stay) say("outbox-sent", now?.state);
    else if (now?.state === "done") location.assign(now.go);
    else location.assign("/outbox");
  }

  /** @param {HTMLFormElement} form @param {Entry} entry */
  #open(form, entry) {
    this.entry = entry;
    this.open = form;
    complain(form, entry.complaints, this.words.heading);
  }

  async #restore() {
    const forms = /** @type {HTMLFormElement[]} */ ([...document.querySelectorAll("form[data-outbox]")]);
    const id = /^#outbox-(\d+)$/.exec(location.hash)?.[1];
    const entry = id ? await this.store.entry(Number(id)) : undefined;
    const form = forms.find((one) => new URL(one.action).pathname === entry?.action.split("?")[0]) ?? forms[0];
    if (!form) return;
    if (entry && entry.state === "needs") {
      fillIn(form, entry.fields);
      this.#open(form, entry);
      return;
    }
    const { asOf, today } = document.documentElement.dataset;
    for (const box of asOf === undefined ? [] : form.querySelectorAll("input[type=date]")) {
      // A page kept since yesterday still says yesterday where it meant today.
      if (box instanceof HTMLInputElement && box.value === today) box.value = isoDay(new Date());
    }
    const draft = await this.store.draft(this.#draftId(form));
    if (!draft || form.querySelector("[data-errors]")) return;
    fillIn(form, draft.fields);
    const note = document.createElement("p");
    note.className = "warn";
    note.setAttribute("role", "status");
    const words = document.createElement("span");
    words.textContent = this.words.restored;
    const away = document.createElement("button");
    Object.assign(away, { type: "button", textContent: this.words.afresh });
    away.addEventListener("click", async () => {
      await this.store.dropDraft(draft.id);
      location.reload();
    });
    note.append(words, away);
    form.prepend(note);
  }

  /** @param {Event} event */
  #typing(event) {
    const form = event.target instanceof Element && event.target.closest("form[data-outbox]");
    if (!(form instanceof HTMLFormElement) || this.entry) return;
    form.dataset.touched = "";
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#saveDraft(), DRAFT_AFTER_MS);
  }

  #saveDraft() {
    const form = document.querySelector("form[data-outbox][data-touched]");
    if (!(form instanceof HTMLFormElement) || this.entry) return;
    delete form.dataset.touched;
    // Photos are not kept in drafts: they stand in the phone's own album.
    const fields = typed(form).filter(([, value]) => typeof value === "string");
    this.store.keepDraft({ id: this.#draftId(form), at: Date.now(), fields }).catch((error) => {
      complain(form, [{ field: "", label: "", text: `${this.words.notKept} (${error})` }], this.words.heading);
    });
  }

  /** @param {HTMLFormElement} form */
  #draftId(form) {
    return `${location.pathname}${location.search}#${form.id}`;
  }
}
