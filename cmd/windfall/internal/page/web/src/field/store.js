// What a phone keeps: two tables in IndexedDB, or in memory where the browser
// keeps nothing. Entries to be sent stand under their keys, documents under
// their names.

// The database takes a moment to write, and a page may be closed in it: until it
// has answered, what was said stands in the browser's other storage too, which
// writes at once.
const unsaved = "windfall unsaved ";

/** @param {string} key @param {any} value */
export function noteAtOnce(key, value) {
  try {
    localStorage.setItem(unsaved + key, JSON.stringify(value));
  } catch { /* the database alone, then */ }
}

/** @param {string} key */
export function forgetNote(key) {
  try {
    localStorage.removeItem(unsaved + key);
  } catch { /* there is none */ }
}

/** What the database had no time for. @returns {[string, any][]} */
export function notedAtOnce() {
  try {
    return Object.keys(localStorage).filter((k) => k.startsWith(unsaved)).map((k) => [k.slice(unsaved.length), JSON.parse(localStorage.getItem(k) || "null")]);
  } catch {
    return [];
  }
}

const tables = ["queue", "docs"];

/** @returns {Promise<Store>} */
export async function openStore() {
  try {
    const db = await new Promise((ok, no) => {
      const r = indexedDB.open("windfall-field", 1);
      r.onupgradeneeded = () => tables.forEach((t) => r.result.createObjectStore(t));
      r.onsuccess = () => ok(r.result);
      r.onerror = r.onblocked = () => no(r.error);
    });
    return new Store(/** @type {IDBDatabase} */ (db));
  } catch {
    return new Store(null);
  }
}

export class Store {
  /** @param {IDBDatabase | null} db */
  constructor(db) {
    this.db = db;
    /** @type {Record<string, Map<string, any>>} */
    this.memory = Object.fromEntries(tables.map((t) => [t, new Map()]));
  }

  /** Whether what is put here outlives the page. */
  get lasting() { return this.db !== null; }

  /** @param {string} table @param {[string, any][]} rows undefined: taken out */
  put(table, rows) {
    for (const [k, v] of rows) {
      if (v === undefined) this.memory[table].delete(k);
      else this.memory[table].set(k, v);
    }
    if (!this.db) return Promise.resolve();
    const t = this.db.transaction(table, "readwrite", { durability: "strict" }), s = t.objectStore(table);
    for (const [k, v] of rows) {
      if (v === undefined) s.delete(k);
      else s.put(v, k);
    }
    return new Promise((ok, no) => {
      t.oncomplete = () => ok(undefined);
      t.onerror = t.onabort = () => no(t.error);
    });
  }

  /** All of a table. @param {string} table @returns {Promise<Map<string, any>>} */
  async all(table) {
    if (!this.db) return this.memory[table];
    const s = this.db.transaction(table).objectStore(table);
    const ask = (/** @type {IDBRequest} */ r) => new Promise((ok, no) => { r.onsuccess = () => ok(r.result); r.onerror = () => no(r.error); });
    const [keys, values] = await Promise.all([ask(s.getAllKeys()), ask(s.getAll())]);
    return new Map(keys.map((/** @type {string} */ k, /** @type {number} */ i) => [k, values[i]]));
  }

  /** @param {string} name */
  async doc(name) { return (await this.all("docs")).get(name); }
}
