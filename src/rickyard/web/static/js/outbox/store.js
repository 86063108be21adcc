// @ts-check
/**
 * The phone's own store (IndexedDB): what waits to be sent, and drafts of forms not yet sent.
 * A deed counts as kept when its transaction is complete on the disk, not before.
 */

/** @typedef {"waiting" | "sending" | "done" | "needs"} State */
/** @typedef {{field: string, label: string, text: string}} Complaint */
/** @typedef {[name: string, value: string | File]} Field */
/**
 * @typedef {object} Entry
 * @property {number} [id] place in the queue, given by the store
 * @property {string} key client key: the server does each key once
 * @property {string} title what it is, in the user's words
 * @property {string} action where it is sent
 * @property {string} page the page of its form
 * @property {string} who id of the person who typed it, or ""
 * @property {string} whoName
 * @property {number} happenedAt by the phone's clock [ms]
 * @property {Field[]} fields the form as typed
 * @property {State} state
 * @property {number} tries
 * @property {Complaint[]} complaints
 * @property {string} go page of what came of it
 * @property {string} after key of the deed that must be done first, or ""
 */
/** @typedef {{id: string, at: number, fields: Field[]}} Draft */

const NAME = "rickyard";
const VERSION = 1;

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
function answer(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

export class Store {
  /** @param {IDBDatabase} db */
  constructor(db) {
    this.db = db;
  }

  /** @param {string} [name] @returns {Promise<Store>} */
  static open(name = NAME) {
    return new Promise((resolve, reject) => {
      const request = indexedDB.open(name, VERSION);
      request.onupgradeneeded = () => {
        request.result.createObjectStore("entries", { keyPath: "id", autoIncrement: true });
        request.result.createObjectStore("drafts", { keyPath: "id" });
      };
      request.onerror = () => reject(request.error);
      request.onsuccess = () => {
        // A newer version in another tab may want to change the tables: do not stand in its way.
        request.result.onversionchange = () => request.result.close();
        resolve(new Store(request.result));
      };
    });
  }

  /**
   * @template T
   * @param {"entries" | "drafts"} table
   * @param {IDBTransactionMode} mode
   * @param {(table: IDBObjectStore) => IDBRequest<T>} run
   * @returns {Promise<T>}
   */
  async #in(table, mode, run) {
    const transaction = this.db.transaction(table, mode, { durability: "strict" });
    const complete = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error);
    });
    // Both may fail of one cause; the transaction's is the one told.
    const result = answer(run(transaction.objectStore(table))).catch(() => undefined);
    await complete;
    return /** @type {T} */ (await result);
  }

  /** @param {Entry} entry @returns {Promise<number>} its place in the queue */
  async keep(entry) {
    return Number(await this.#in("entries", "readwrite", (table) => table.put(entry)));
  }

  /** A deed and its photos: all or none. @param {Entry[]} entries gets their places in the queue */
  async keepAll(entries) {
    const transaction = this.db.transaction("entries", "readwrite", { durability: "strict" });
    const complete = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error);
    });
    const table = transaction.objectStore("entries");
    let places;
    try {
      places = entries.map((entry) => answer(table.put(entry)).catch(() => undefined));
    } catch (error) {
      // One that cannot be stored throws at once; those before it must not be kept alone.
      transaction.abort();
      await complete.catch(() => undefined);
      throw error;
    }
    await complete;
    for (const [n, entry] of entries.entries()) entry.id = Number(await places[n]);
  }

  /** @param {number} id @returns {Promise<Entry | undefined>} */
  entry(id) {
    return this.#in("entries", "readonly", (table) => table.get(id));
  }

  /** @returns {Promise<Entry[]>} all, in the order in which they were typed */
  entries() {
    return this.#in("entries", "readonly", (table) => table.getAll());
  }

  /** @param {number} id */
  async drop(id) {
    await this.#in("entries", "readwrite", (table) => table.delete(id));
  }

  /** @param {Draft} draft */
  async keepDraft(draft) {
    await this.#in("drafts", "readwrite", (table) => table.put(draft));
  }

  /** @param {string} id @returns {Promise<Draft | undefined>} */
  draft(id) {
    return this.#in("drafts", "readonly", (table) => table.get(id));
  }

  /** @param {string} id */
  async dropDraft(id) {
    await this.#in("drafts", "readwrite", (table) => table.delete(id));
  }
}
