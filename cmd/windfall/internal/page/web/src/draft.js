// The flight as it would be if it were saved now: what the file says, and the
// changes made on the page. Every part of the page reads and changes this one
// draft, and is told when it changes.

/** @typedef {import("./types").Value} Value */
/** @typedef {import("./types").Flight} Flight */
/** @typedef {{key: string, value?: Value, insert?: boolean}} Op */
/** @typedef {{ops: Op[], drawn: import("./types").Drawn}} State */

/** @param {string} key @returns {string[]} */
export function steps(key) { return key.split(/[.[\]]+/).filter(Boolean); }

/**
 * The value at a key; undefined where there is none.
 * @param {Value | undefined} v @param {string} key @returns {Value | undefined}
 */
export function at(v, key) {
  for (const s of steps(key)) {
    if (v === null || typeof v !== "object") return undefined;
    v = Array.isArray(v) ? v[Number(s)] : v[s];
  }
  return v;
}

/**
 * The value with one change made; undefined where nothing is left of it.
 * @param {any} v @param {string[]} way @param {Op} op @returns {any}
 */
function changed(v, way, op) {
  if (way.length === 0) return op.value;
  const [s, ...rest] = way;
  if (v === undefined || v === null) {
    if (op.value === undefined) return undefined;
    v = s === "0" ? [] : {};
  }
  if (Array.isArray(v)) {
    const i = Number(s), copy = v.slice();
    if (op.insert && rest.length === 0) copy.splice(i, 0, op.value);
    else {
      const c = changed(copy[i], rest, op);
      if (c === undefined) copy.splice(i, 1);
      else copy[i] = c;
    }
    return copy.length ? copy : undefined;
  }
  if (typeof v !== "object") return v;
  const copy = { ...v }, c = changed(copy[s], rest, op);
  if (c === undefined) delete copy[s];
  else copy[s] = c;
  return Object.keys(copy).length ? copy : undefined;
}

/** @param {import("./types").Values} values @param {Op[]} ops @returns {import("./types").Values} */
function applied(values, ops) { return ops.reduce((v, op) => changed(v, steps(op.key), op) || {}, values); }

export class Draft extends EventTarget {
  /** @param {Flight} saved */
  constructor(saved) {
    super();
    this.saved = saved;
    /** @type {State} */
    this.state = { ops: [], drawn: saved.drawn };
    /** @type {State[]} */
    this.past = [];
    this.values = saved.values;
  }

  /** @param {string} key @returns {Value | undefined} */
  get(key) { return at(this.values, key); }

  /** The text at a key, "" where there is none. @param {string} key @returns {string} */
  text(key) {
    const v = this.get(key);
    return typeof v === "string" ? v : "";
  }

  /** @param {string} key @param {Value} value @param {string} [by] who changed it, to be left alone when told */
  set(key, value, by) { this.do({ key, value }, by); }

  /** @param {string} key @param {string} [by] */
  remove(key, by) { if (this.get(key) !== undefined) this.do({ key }, by); }

  /** @param {string} key @param {Value} value @param {string} [by] */
  insert(key, value, by) { this.do({ key, value, insert: true }, by); }

  /** @param {Op} op @param {string} [by] */
  do(op, by) {
    const ops = this.state.ops, last = ops[ops.length - 1];
    const again = last && !op.insert && !last.insert && last.key === op.key && typeof last.value === typeof op.value;
    this.turn({ ...this.state, ops: again ? [...ops.slice(0, -1), op] : [...ops, op] }, by, again && by === this.lastBy);
    this.lastBy = by;
  }

  /**
   * Puts what is drawn in place; naming the file where the flight names none.
   * @param {"field" | "ground"} which @param {import("geojson").FeatureCollection | null} shapes
   */
  draw(which, shapes) {
    const key = "site." + which;
    let ops = this.state.ops;
    if (shapes && !this.text(key)) { // drawn anew: the line of the file stays as it was
      ops = ops.filter((o) => o.key !== key || o.value !== undefined);
      if (!at(applied(this.saved.values, ops), key)) ops = [...ops, { key, value: this.saved.drawn_file[which] }];
    }
    if (!shapes && this.text(key)) ops = [...ops, { key }];
    this.turn({ ops, drawn: { ...this.state.drawn, [which]: shapes } }, "draw");
  }

  get drawn() { return this.state.drawn; }

  /** @param {State} state @param {string} [by] @param {boolean} [same] it is one with the change before */
  turn(state, by, same) {
    if (!same) this.past.push(this.state);
    if (this.past.length > 200) this.past.shift();
    this.state = state;
    this.tell(by);
  }

  undo() {
    const s = this.past.pop();
    if (!s) return;
    this.state = s;
    this.lastBy = undefined;
    this.tell("undo");
  }

  /** Takes up the file as it is now. @param {Flight} saved @param {boolean} keep the changes made here */
  reload(saved, keep) {
    const was = this.saved;
    this.saved = saved;
    if (!keep) this.state = { ops: [], drawn: saved.drawn };
    else {
      const drawn = { ...saved.drawn };
      for (const w of /** @type {const} */ (["field", "ground"])) {
        if (this.state.drawn[w] !== was.drawn[w]) drawn[w] = this.state.drawn[w];
      }
      this.state = { ops: this.state.ops, drawn };
    }
    this.past = [];
    this.tell("reload");
  }

  /** @param {string} [by] */
  tell(by) {
    this.values = applied(this.saved.values, this.state.ops);
    this.keep();
    this.dispatchEvent(new CustomEvent("change", { detail: by }));
  }

  get dirty() { return this.state.ops.length > 0 || this.drawnChanged("field") || this.drawnChanged("ground"); }

  /** @param {"field" | "ground"} which */
  drawnChanged(which) { return this.state.drawn[which] !== this.saved.drawn[which]; }

  /** The number of keys and drawings that differ from the file. */
  get count() {
    const keys = new Set(this.state.ops.map((o) => o.key)).size;
    return keys + Number(this.drawnChanged("field")) + Number(this.drawnChanged("ground"));
  }

  /** What a request says of the draft. @returns {import("./types").DraftBody} */
  body() {
    /** @type {import("./types").DraftBody} */
    const out = { base: this.saved.hash, edits: this.state.ops.map(edit) };
    for (const w of /** @type {const} */ (["field", "ground"])) {
      if (!this.drawnChanged(w)) continue;
      out.drawn = { ...out.drawn, [w]: { base: this.saved.drawn_hash[w], shapes: this.state.drawn[w] } };
    }
    return out;
  }

  // Changes not saved outlive a reload of the page and a stop of the program.

  keep() {
    try {
      const store = window.sessionStorage, name = "draft " + this.saved.path;
      if (!this.dirty) store.removeItem(name);
      else {
        const drawn = Object.fromEntries(["field", "ground"].filter((w) => this.drawnChanged(/** @type {any} */ (w)))
          .map((w) => [w, /** @type {any} */ (this.state.drawn)[w]]));
        store.setItem(name, JSON.stringify({ base: this.saved.hash, ops: this.state.ops, drawn }));
      }
    } catch { /* no storage, or full: the draft lives as long as the page */ }
  }

  /**
   * Takes up changes kept from before.
   * @returns {"" | "kept" | "newer"} whether there were any, and whether the file has changed since
   */
  restore() {
    try {
      const text = window.sessionStorage.getItem("draft " + this.saved.path);
      if (!text) return "";
      const kept = JSON.parse(text);
      this.state = { ops: kept.ops, drawn: { ...this.saved.drawn, ...kept.drawn } };
      this.tell("restore");
      return !this.dirty ? "" : kept.base === this.saved.hash ? "kept" : "newer";
    } catch {
      return "";
    }
  }
}

/** @param {Op} op @returns {import("./types").Edit} */
function edit(op) {
  const e = /** @type {import("./types").Edit} */ ({ key: op.key });
  if (op.value !== undefined) e.value = JSON.stringify(op.value);
  if (op.insert) e.insert = true;
  return e;
}
