// The walk of one searcher: which step is now, what is ticked, what to say. It
// knows the plan, the ticks and the track, and no screen.
import { distance, frameOf } from "./frame.js";
import { parts } from "./gpx.js";
import { firstOpen, lead, nearOf, nextStep, Passed, stepsOf } from "./lead.js";

/** @typedef {import("./chart").Fix} Fix */
/** @typedef {import("./lead.js").Step} Step */

export class Walk extends EventTarget {
  /**
   * @param {import("./chart").Chart} chart @param {string} who
   * @param {import("./ticks.js").Ticks} ticks @param {import("./track.js").Track} track
   */
  constructor(chart, who, ticks, track) {
    super();
    this.ticks = ticks;
    this.track = track;
    this.frame = frameOf(chart.pad);
    this.searcher = (chart.searchers || []).find((s) => s.name === who) || null;
    this.steps = this.searcher ? stepsOf(this.searcher.stages) : [];
    this.metres = (/** @type {Fix} */ a, /** @type {Fix} */ b) => distance(this.xy(a), this.xy(b));
    this.now = firstOpen(this.steps, (k) => ticks.of(k));
    /** @type {{key: string, before: "done" | "skipped" | undefined, now: number} | null} */
    this.undoable = null;
    this.begin();
  }

  /** @param {Fix} f */
  xy(f) { return this.frame.toXY(f.lat, f.lon); }

  /** @returns {Step | null} */
  get step() { return this.steps[this.now] || null; }

  /** The block that is walked, or to which one is on the way. @returns {string} */
  get block() { return this.steps.slice(Math.max(0, this.now)).find((s) => s.block)?.block || ""; }

  /** Begins the step that is now, with what the track has of it already. */
  begin() {
    const step = this.step;
    this.passed = step ? new Passed(step.line, nearOf(step.stage)) : null;
    for (const p of this.track.pieces) this.along(p);
  }

  /** @param {Fix[]} piece */
  along(piece) {
    for (let i = 1; i < piece.length; i++) this.passed?.walk(this.xy(piece[i - 1]), this.xy(piece[i]));
  }

  /** A fix that the track has taken. @param {Fix} f */
  at(f) {
    this.fix = f;
    const piece = this.track.pieces.at(-1) || [];
    this.along(piece.slice(-2));
    const say = this.advice();
    if (say?.say === "end" && this.step) this.tick(this.step.key, "done", true);
    else this.dispatchEvent(new Event("move"));
  }

  /** A place that was set by hand: it leads, but ticks nothing. @param {Fix} f */
  stand(f) {
    this.fix = f;
    this.dispatchEvent(new Event("move"));
  }

  advice() {
    if (!this.step || !this.fix || !this.passed) return null;
    return lead(this.step, this.passed, this.xy(this.fix), this.fix.acc);
  }

  /** @param {string} key @param {"done" | "skipped" | null} state @param {boolean} [byItself] the walk ticked it, not a thumb */
  tick(key, state, byItself) {
    this.undoable = { key, before: this.ticks.of(key)?.state, now: this.now };
    this.ticks.set(key, state, Date.now());
    if (state && this.step?.key === key) this.go(nextStep(this.steps, (k) => this.ticks.of(k), this.now + 1));
    this.dispatchEvent(new CustomEvent("tick", { detail: { key, state, byItself: !!byItself } }));
  }

  undo() {
    const u = this.undoable;
    if (!u) return;
    this.undoable = null;
    this.ticks.set(u.key, u.before || null, Date.now());
    this.go(u.now);
    this.dispatchEvent(new CustomEvent("tick", { detail: { key: u.key, state: u.before || null, byItself: false } }));
  }

  /** @param {number} i the step to walk now */
  go(i) {
    this.now = i;
    this.begin();
  }

  /** What others said may have ticked the step that is now. */
  renew() {
    const step = this.step;
    if (step && !this.ticks.of(step.key)) return;
    this.go(step ? nextStep(this.steps, (k) => this.ticks.of(k), this.now) : firstOpen(this.steps, (k) => this.ticks.of(k)));
    this.dispatchEvent(new Event("move"));
  }

  /** Leads to a lane that somebody chose. @param {string} key */
  choose(key) {
    this.go(this.steps.findIndex((s) => s.key === key));
    this.dispatchEvent(new Event("move"));
  }

  /** Lanes done and in all, of one block or of everything. @param {string} [block] */
  tally(block) {
    const lanes = this.steps.filter((s) => s.block && (!block || s.block === block));
    return { done: this.ticks.count(lanes.map((s) => s.key)), skipped: lanes.filter((s) => this.ticks.of(s.key)?.state === "skipped").length, all: lanes.length };
  }

  /** Ticks the open lanes that a track of elsewhere followed. @param {Fix[][]} pieces @returns {number} how many */
  tickWalked(pieces) {
    const walked = pieces.flatMap((p) => parts(p, this.metres, this.searcher?.kind === "drone"));
    let n = 0;
    for (const step of this.steps) {
      if (!step.block || this.ticks.of(step.key)) continue;
      const passed = new Passed(step.line, nearOf(step.stage));
      for (const p of walked) for (let i = 1; i < p.length; i++) passed.walk(this.xy(p[i - 1]), this.xy(p[i]));
      if (passed.share < 0.9) continue;
      this.ticks.set(step.key, "done", Date.now());
      n++;
    }
    if (n) {
      this.undoable = null;
      this.go(firstOpen(this.steps, (k) => this.ticks.of(k)));
      this.dispatchEvent(new CustomEvent("tick", { detail: { key: "", state: "done", byItself: false } }));
    }
    return n;
  }
}
