// The phone's own way: fixes as they come, with a new piece wherever the page was
// not there to see. Nothing is made up between pieces.

/** @typedef {import("./chart").Fix} Fix */
/** @typedef {{from: number, to: number, why: string}} Gap */

// Choices of ours: a fix worse than this is not kept, a silence longer than this
// is a gap, and a way faster than this is a jump of the receiver.
const worst = 50, silence = 30e3, fastest = 30; // m, ms, m/s

export class Track {
  /** @param {any} [kept] as kept gives it */
  constructor(kept) {
    /** @type {Fix[][]} */
    this.pieces = kept?.pieces?.map((/** @type {number[][]} */ p) => p.map(([t, lat, lon, acc]) => ({ t, lat, lon, acc }))) || [];
    /** @type {Gap[]} */
    this.gaps = kept?.gaps || [];
    this.poor = kept?.poor || 0;
    this.jumps = kept?.jumps || 0;
    /** @type {string} why the next fix begins a piece; "": it does not */
    this.broken = this.pieces.length ? "the page was closed" : "";
    /** @type {Fix | null} a fix that lies too far off, until the next one agrees with it */
    this.doubt = null;
  }

  get last() { return this.pieces.at(-1)?.at(-1) || null; }

  get count() { return this.pieces.reduce((n, p) => n + p.length, 0); }

  /**
   * Takes a fix; the answer says whether it was kept.
   * @param {Fix} f @param {(a: Fix, b: Fix) => number} metres between two fixes
   */
  add(f, metres) {
    if (!(f.acc <= worst)) {
      this.poor++;
      return false;
    }
    const last = this.last;
    if (last && f.t <= last.t) return false;
    let why = this.broken;
    if (last && !why && f.t - last.t > silence) why = "no fixes";
    const speed = last ? metres(last, f) / Math.max(1, (f.t - last.t) / 1000) : 0;
    if (last && speed > fastest) {
      const before = this.doubt;
      this.doubt = f;
      if (!before || metres(before, f) / Math.max(1, (f.t - before.t) / 1000) > fastest) {
        this.jumps++;
        return false;
      }
      why = "a jump of the position";
    }
    this.doubt = null;
    if (!last) this.pieces.push([]);
    else if (why) {
      this.gaps.push({ from: last.t, to: f.t, why });
      this.pieces.push([]);
    }
    this.broken = "";
    this.pieces[this.pieces.length - 1].push(f);
    return true;
  }

  /** Says that nobody watches from now on. @param {string} why */
  pause(why) { if (this.last && !this.broken) this.broken = why; }

  /** @param {(a: Fix, b: Fix) => number} metres */
  length(metres) {
    let m = 0;
    for (const p of this.pieces) for (let i = 1; i < p.length; i++) m += metres(p[i - 1], p[i]);
    return m;
  }

  /** What to put away; Track takes it back. */
  kept() {
    return { pieces: this.pieces.map((p) => p.map((f) => [f.t, +f.lat.toFixed(7), +f.lon.toFixed(7), Math.round(f.acc)])), gaps: this.gaps, poor: this.poor, jumps: this.jumps };
  }
}
