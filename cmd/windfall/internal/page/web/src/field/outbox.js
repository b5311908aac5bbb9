// What was said on this phone and has not come to the laptop yet. Everything has
// a key of its own and the time at which it was said, is kept until it was
// answered for, and may be sent twice without harm.
import { ask, Refusal } from "../api.js";
import { forgetNote, noteAtOnce, notedAtOnce } from "./store.js";

/**
 * @typedef {{key: string, at: string, kind: string, [field: string]: any}} Entry
 * @typedef {{entry: Entry, n: number, flight: string}} Waiting n counts what was said, in order
 * @typedef {{key: string, id?: number, state: "logged" | "known" | "conflict" | "refused", message?: string}} Result
 */

const patience = 20e3; // ms for an answer: a phone that walks out of range is told of nothing
const batch = 500; // entries in one request; 10 000 go in twenty
const mostLetters = 200e3; // of a request of several: at the edge of range 100 kbit/s take 16 s for it

/** A random UUID, also where the page is not secure (RFC 9562, version 4). */
export function newKey() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 15) | 64;
  b[8] = (b[8] & 63) | 128;
  return [...b].map((x, i) => ([4, 6, 8, 10].includes(i) ? "-" : "") + x.toString(16).padStart(2, "0")).join("");
}

export class Outbox extends EventTarget {
  /** @param {import("./store.js").Store} store @param {Map<string, Waiting>} kept */
  constructor(store, kept) {
    super();
    this.store = store;
    this.waiting = new Map([...kept, ...notedAtOnce()].filter((x) => x[1]?.entry).sort((a, b) => a[1].n - b[1].n));
    this.flight = ""; // that the laptop serves now; "": not known, nothing is sent
    this.said = ""; // flight of what is said now: the last that was served
    this.n = [...this.waiting.values()].at(-1)?.n || 0;
    this.busy = false;
    this.clockOff = 0; // s, this phone's clock ahead of the laptop's
  }

  get size() { return this.flight ? this.mine().length : this.waiting.size; }

  /** What waits for the flight that is served. @returns {Waiting[]} */
  mine() { return [...this.waiting.values()].filter((w) => !w.flight || w.flight === this.flight); }

  /** Flights that are not served now, and have something waiting. @returns {string[]} */
  get others() { return this.flight ? [...new Set([...this.waiting.values()].map((w) => w.flight))].filter((f) => f && f !== this.flight) : []; }

  /** What waits of a kind. @param {...string} kinds @returns {Entry[]} */
  of(...kinds) { return [...this.waiting.values()].filter((w) => !w.flight || w.flight === (this.flight || this.said)).map((w) => w.entry).filter((e) => kinds.includes(e.kind)); }

  /**
   * Takes something that was said and sends it if it can.
   * @param {string} kind @param {Record<string, any>} fields @param {number} [at] ms, when it was said @param {string} [key] of what is the same whoever says it
   * @returns {string} its key
   */
  say(kind, fields, at, key) {
    const entry = { key: key || newKey(), at: new Date(at || Date.now()).toISOString(), kind, ...fields };
    if (kind === "position") for (const e of this.of("position")) this.drop(e.key); // the newest is enough
    const w = { entry, n: ++this.n, flight: this.flight || this.said };
    this.waiting.set(entry.key, w);
    noteAtOnce(entry.key, w);
    this.store.put("queue", [[entry.key, w]]).then(() => forgetNote(entry.key), () => this.dispatchEvent(new Event("unkept")));
    this.dispatchEvent(new CustomEvent("change", { detail: { quiet: kind === "position" || kind === "track" } }));
    this.send();
    return entry.key;
  }

  /** Takes back something that has not left the phone. @param {string} key @returns {boolean} whether it was still here */
  drop(key) {
    if (this.busy && this.going?.has(key)) return false;
    if (!this.waiting.delete(key)) return false;
    forgetNote(key);
    this.store.put("queue", [[key, undefined]]).catch(() => {});
    this.dispatchEvent(new Event("change"));
    return true;
  }

  /** What goes in the next request: the oldest, as many as it may hold. @returns {Entry[]} */
  first() {
    const some = [];
    let letters = 0;
    for (const w of this.mine().slice(0, batch)) {
      letters += JSON.stringify(w.entry).length;
      if (some.length && letters > mostLetters) break;
      some.push(w.entry);
    }
    return some;
  }

  /** Sends what waits, oldest first, until nothing does or nobody answers. */
  async send() {
    if (this.busy || !this.flight) return;
    this.busy = true;
    try {
      for (;;) {
        const some = this.first();
        if (!some.length) break;
        this.going = new Set(some.map((e) => e.key));
        const a = await ask("POST", "entries", { now: new Date().toISOString(), entries: some }, AbortSignal.timeout(patience));
        this.reach(true);
        this.clockOff = a.clock_off_s;
        await this.answered(some, a);
      }
    } catch (e) {
      this.failed(/** @type {Error} */ (e));
    } finally {
      this.busy = false;
      this.going = undefined;
      this.dispatchEvent(new CustomEvent("change", { detail: { quiet: true } }));
    }
  }

  /** @param {Entry[]} sent @param {{results: Result[], message?: string, version: number}} a */
  async answered(sent, a) {
    const known = new Map(sent.map((e) => [e.key, e]));
    for (const r of a.results) {
      this.waiting.delete(r.key);
      forgetNote(r.key);
      this.dispatchEvent(new CustomEvent("answer", { detail: { ...r, entry: known.get(r.key) } }));
    }
    await this.store.put("queue", a.results.map((r) => [r.key, undefined]));
    this.dispatchEvent(new CustomEvent("sent", { detail: a }));
  }

  /** @param {boolean} yes whether the laptop answers */
  reach(yes) { this.dispatchEvent(new CustomEvent("reach", { detail: yes })); }

  /** @param {Error} e */
  failed(e) {
    const status = e instanceof Refusal ? e.status : 0;
    this.reach(status !== 0 && status < 500);
    if (status === 401) this.dispatchEvent(new CustomEvent("out", { detail: e.message }));
    else if (status >= 400 && status < 500) this.dispatchEvent(new CustomEvent("trouble", { detail: e.message }));
  }
}
