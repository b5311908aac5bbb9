// What this phone knows of the field: the laptop's word, kept for when it cannot
// be asked, and what was said here and is still on its way.
import { ask, Refusal } from "../api.js";

/** @typedef {import("./crew").FieldDoc} FieldDoc */

const patience = 20e3; // ms for an answer
const restLeft = 20e3; // ms between two times that what is left is asked for by itself

export class CrewField extends EventTarget {
  /** @param {import("./store.js").Store} store @param {import("./outbox.js").Outbox} outbox @param {Map<string, any>} docs kept */
  constructor(store, outbox, docs) {
    super();
    this.store = store;
    this.outbox = outbox;
    /** @type {FieldDoc | null} */
    this.doc = docs.get("field") || null;
    /** @type {{plan: number, chart: import("./chart").Chart} | null} */
    this.chart = docs.get("chart") || null;
    /** @type {any} */
    this.left = docs.get("left") || null;
    /** @type {string} hashes of the flight's files, as they were told last */
    this.files = docs.get("files") || "";
    this.online = false;
    this.heardAt = 0; // ms, the last answer
    this.dead = false; // the stream of events
    /** @type {EventSource | null} */
    this.events = null;
    this.asking = false;
    this.again = false;
    this.leftAt = 0; // ms, when what is left was asked for last
    outbox.said = this.doc?.flight.id || "";
    this.off = 0; // ms, the laptop's clock ahead of this phone's
  }

  get version() { return this.doc?.version || 0; }

  /** The laptop's time. */
  now() { return Date.now() + this.off; }

  /** Follows the laptop: events while it is there, and what waits is sent when it comes back. */
  follow() {
    this.events?.close();
    this.dead = false;
    const s = this.events = new EventSource("/api/v1/events");
    const reached = () => {
      this.setOnline(true);
      this.refresh();
    };
    s.addEventListener("open", reached);
    s.addEventListener("field", (e) => { if (JSON.parse(/** @type {MessageEvent} */ (e).data).version !== this.version) this.refresh(); });
    s.addEventListener("flight", (e) => { // told at every connection, and when a file has changed
      const files = /** @type {MessageEvent} */ (e).data, before = this.files;
      this.files = files;
      this.store.put("docs", [["files", files]]).catch(() => {});
      if (before !== files) this.refresh(true);
    });
    s.addEventListener("positions", (e) => {
      if (this.doc) this.doc.people = JSON.parse(/** @type {MessageEvent} */ (e).data).people || this.doc.people;
      this.dispatchEvent(new Event("positions"));
    });
    s.addEventListener("out", (e) => this.dispatchEvent(new CustomEvent("out", { detail: JSON.parse(/** @type {MessageEvent} */ (e).data).message })));
    s.addEventListener("error", () => {
      this.setOnline(false);
      if (s.readyState === EventSource.CLOSED) setTimeout(() => { if (s === this.events) this.follow(); }, 5000); // refused, not out of range
    });
  }

  /** @param {boolean} on */
  setOnline(on) {
    if (on) this.heardAt = Date.now();
    if (this.online === on) return;
    this.online = on;
    if (!on && this.events?.readyState === EventSource.OPEN) this.dead = true; // it hangs on a connection that leads nowhere
    if (on && this.dead) this.follow();
    this.dispatchEvent(new Event("online"));
  }

  /** Asks what is new. @param {boolean} [whole] the flight itself has changed */
  async refresh(whole) {
    if (this.asking) {
      this.again = true;
      return;
    }
    this.asking = true;
    try {
      let since = whole ? 0 : this.version, d = await ask("GET", "field?since=" + since, undefined, AbortSignal.timeout(patience));
      if (this.doc && d.flight.id !== this.doc.flight.id) { // the laptop serves another flight now
        await this.forget();
        since = 0;
        d = await ask("GET", "field");
      }
      this.off = Date.parse(d.now) - Date.now();
      this.merge(d, since);
      this.outbox.flight = this.outbox.said = d.flight.id;
      this.outbox.send();
      if (!this.chart || whole || this.chart.plan !== (d.plan?.number || 0)) {
        this.chart = await ask("GET", "chart");
        await this.store.put("docs", [["chart", this.chart]]);
        this.dispatchEvent(new Event("chart"));
      }
      this.setOnline(true);
      await this.store.put("docs", [["field", this.doc]]);
      this.dispatchEvent(new Event("change"));
    } catch (e) {
      const away = e instanceof Refusal ? e.status === 0 : e instanceof DOMException; // no answer, or none in time
      if (e instanceof Refusal && e.status === 401) this.dispatchEvent(new CustomEvent("out", { detail: e.message }));
      else if (!away) this.dispatchEvent(new CustomEvent("trouble", { detail: /** @type {Error} */ (e).message }));
      else this.setOnline(false);
    } finally {
      this.asking = false;
    }
    if (this.again) {
      this.again = false;
      this.refresh();
    }
  }

  /** Forgets what was kept of a flight; what was said of it waits for it. */
  async forget() {
    this.doc = this.chart = this.left = null;
    const names = [...(await this.store.all("docs")).keys()].filter((n) => n !== "notices");
    await this.store.put("docs", names.map((n) => [n, undefined]));
    this.dispatchEvent(new Event("other"));
  }

  /** @param {FieldDoc} d @param {number} since */
  merge(d, since) {
    const old = since && this.doc && d.version >= since ? this.doc.entries : [];
    const id = (/** @type {import("./crew").LogEntry} */ e) => e.key || "#" + e.id;
    const fresh = new Set(d.entries.map(id));
    this.doc = { ...d, entries: [...old.filter((e) => !fresh.has(id(e))), ...d.entries] };
  }

  /** Asks for what is left where something has changed it, now and then. */
  renewLeft() {
    const { left, doc } = this, known = doc?.left;
    if (!this.online || !doc || Date.now() - this.leftAt < restLeft) return;
    if (left && known && !known.stale && left.version >= known.version) return;
    this.askLeft().catch(() => {}); // what was kept will do until then
  }

  /** Works out anew what is left; the laptop keeps the answer until something changes it. */
  async askLeft() {
    this.leftAt = Date.now();
    this.left = await ask("GET", "left");
    await this.store.put("docs", [["left", this.left]]);
    this.dispatchEvent(new Event("left"));
  }

  /** Ignition as this phone knows it, ms of the laptop's clock; null: not yet. @returns {number | null} */
  get ignition() {
    const mine = this.outbox.of("ignition").at(-1);
    if (this.doc?.ignition) return Date.parse(this.doc.ignition.at);
    return mine ? Date.parse(mine.at) + this.off : null;
  }

  /** What was said of a lane, by anybody; what waits here comes first. @param {string} block @param {number} lane @returns {"done" | "skipped" | undefined} */
  lane(block, lane) {
    const plan = this.doc?.plan?.number;
    const mine = this.outbox.of("lane").filter((e) => e.plan === plan && e.block === block && e.lane === lane).at(-1);
    const state = mine ? mine.state : this.doc?.progress.find((p) => p.block === block && p.lane === lane)?.state;
    return state === "done" || state === "skipped" ? state : undefined;
  }
}

/** Ticks of a crew: the laptop's word of lanes, and this phone's own of ways. */
export class CrewTicks {
  /** @param {CrewField} field @param {Record<string, any>} ways kept @param {(ways: Record<string, any>) => void} keep */
  constructor(field, ways, keep) {
    this.field = field;
    this.ways = ways;
    this.keep = keep;
    this.lasting = true;
  }

  /** @param {string} key */
  split(key) {
    const m = /^(.*)-(\d+)$/.exec(key);
    return m && !key.startsWith("way-") ? { block: m[1], lane: Number(m[2]) } : null;
  }

  /** @param {string} key @returns {import("./ticks.js").Tick | undefined} */
  of(key) {
    const k = this.split(key), state = k ? this.field.lane(k.block, k.lane) : this.ways[key];
    return state ? { state, at: 0 } : undefined;
  }

  /** @param {string} key @param {"done" | "skipped" | null} state */
  set(key, state) {
    const k = this.split(key), plan = this.field.doc?.plan?.number;
    if (k && plan) this.field.outbox.say("lane", { plan, block: k.block, lane: k.lane, state: state || "open" });
    else if (!k) {
      if (state) this.ways[key] = state;
      else delete this.ways[key];
      this.keep(this.ways);
    }
  }

  /** @param {string[]} keys */
  count(keys) { return keys.filter((k) => this.of(k)?.state === "done").length; }
}
