// Leading somebody along the lines of a plan: pure geometry in metres of the
// pad's frame, without a screen and without a clock.
import { bearingOf, distance } from "./frame.js";

/** @typedef {import("./frame.js").XY} XY */
/** @typedef {import("./chart").Stage} Stage */

/**
 * Something to walk: a lane of a block, or a way. Keys name it for ticks: A1-03
 * is the third lane of A1, way-2 the second way.
 * @typedef {{key: string, block: string, lane: number, lanes: number, line: XY[], stage: Stage, nth: number}} Step
 */

/** All that a searcher walks, in order. @param {Stage[]} stages @returns {Step[]} */
export function stepsOf(stages) {
  /** @type {Step[]} */
  const out = [];
  let ways = 0;
  stages.forEach((stage, nth) => {
    const lanes = stage.lanes || [];
    if (!stage.block || !lanes.length) {
      if (length(stage.path) > 0.5) out.push({ key: "way-" + ++ways, block: "", lane: 0, lanes: 0, line: stage.path, stage, nth });
      return;
    }
    lanes.forEach((line, i) => out.push({
      key: stage.block + "-" + String(i + 1).padStart(2, "0"), block: stage.block || "", lane: i + 1, lanes: lanes.length, line, stage, nth,
    }));
  });
  return out;
}

/** @param {XY[]} line @returns {number} m */
export function length(line) {
  let m = 0;
  for (let i = 1; i < line.length; i++) m += distance(line[i - 1], line[i]);
  return m;
}

/**
 * Where a point stands against a line: how far along it the nearest place is,
 * how far it is to the line's end from there, and how far off one is, right of
 * it positive; bearing is that of the line there.
 * @param {XY[]} line @param {XY} p
 * @returns {{along: number, left: number, off: number, bearing: number, at: XY}}
 */
export function against(line, p) {
  const whole = length(line);
  let best = { along: 0, left: whole, off: distance(line[0], p), bearing: bearingOf(line[0], line[line.length - 1]), at: line[0] };
  let gone = 0, nearest = Infinity;
  for (let i = 1; i < line.length; i++) {
    const a = line[i - 1], b = line[i], d = distance(a, b);
    if (d === 0) continue;
    const ux = (b[0] - a[0]) / d, uy = (b[1] - a[1]) / d;
    const t = (p[0] - a[0]) * ux + (p[1] - a[1]) * uy, k = Math.min(d, Math.max(0, t));
    /** @type {XY} */
    const at = [a[0] + k * ux, a[1] + k * uy];
    const far = distance(at, p);
    if (far < nearest) {
      nearest = far;
      best = { along: gone + k, left: whole - gone - k, off: (p[0] - a[0]) * uy - (p[1] - a[1]) * ux, bearing: bearingOf(a, b), at };
    }
    gone += d;
  }
  return best;
}

/**
 * What of a line was passed within a distance of it: pieces of about 10 m, each
 * of which counts when the walk came by its middle.
 */
export class Passed {
  /** @param {XY[]} line @param {number} near m */
  constructor(line, near) {
    this.near = near;
    /** @type {XY[]} */
    this.middles = [];
    for (let i = 1; i < line.length; i++) {
      const a = line[i - 1], b = line[i], n = Math.max(1, Math.round(distance(a, b) / 10));
      for (let k = 0; k < n; k++) this.middles.push([a[0] + (b[0] - a[0]) * (k + 0.5) / n, a[1] + (b[1] - a[1]) * (k + 0.5) / n]);
    }
    this.seen = new Array(this.middles.length).fill(false);
  }

  /** A straight piece of the walk. @param {XY} a @param {XY} b */
  walk(a, b) {
    this.middles.forEach((q, i) => {
      if (!this.seen[i]) this.seen[i] = distance(against([a, b], q).at, q) <= this.near;
    });
  }

  /** The first place that was not passed; null: all of it, or none, was. @returns {XY | null} */
  get open() {
    const i = this.seen.indexOf(false);
    return i > 0 ? this.middles[i] : null;
  }

  /** @returns {number} 0 to 1 */
  get share() { return this.middles.length ? this.seen.filter(Boolean).length / this.middles.length : 0; }
}

/** How near (m) to a lane its ground counts as walked: half the spacing, at least what a phone wanders. @param {Stage} s */
export function nearOf(s) { return Math.max(8, (s.spacing_m || 0) / 2); }

const atBegin = 12; // m, near enough to a line's beginning to be sent along it
const enough = 0.8; // of a lane, to take it as walked when its end is reached

/**
 * What to say to somebody at p who walks a step.
 *   to    go to where the first of it is to be walked: bearing and distance
 *   along on the line: bearing, off, left
 *   end   at its end, having walked it
 * @param {Step} step @param {Passed} passed of this step @param {XY} p @param {number} accuracy m
 */
export function lead(step, passed, p, accuracy) {
  const w = against(step.line, p), loose = Math.min(15, Math.max(6, accuracy));
  if (step.block === "") {
    const end = step.line[step.line.length - 1];
    if (distance(p, end) <= Math.max(atBegin, loose)) return { say: /** @type {const} */ ("end"), ...w };
    // On a way what counts is the next corner ahead; one that has strayed goes back to the nearest place.
    const corner = cornerAfter(step.line, w.along, loose);
    return { say: /** @type {const} */ ("way"), ...w, bearing: bearingOf(p, corner), to: distance(p, corner), left: w.left };
  }
  if (w.left <= loose && passed.share >= enough) return { say: /** @type {const} */ ("end"), ...w };
  // Who is beside the line and has some of it before them is led along it, the
  // others to where the first of it is to be walked.
  const open = passed.open || step.line[0], far = distance(p, open);
  const beside = w.left > loose && (passed.share > 0 ? Math.abs(w.off) <= 2 * passed.near : w.along < atBegin && Math.abs(w.off) <= passed.near);
  if (!beside && far > atBegin) return { say: /** @type {const} */ ("to"), ...w, bearing: bearingOf(p, open), to: far };
  return { say: /** @type {const} */ ("along"), ...w };
}

/** The first corner of a line farther along than that. @param {XY[]} line @param {number} along @param {number} loose @returns {XY} */
function cornerAfter(line, along, loose) {
  let gone = 0;
  for (let i = 1; i < line.length; i++) {
    gone += distance(line[i - 1], line[i]);
    if (gone > along + loose) return line[i];
  }
  return line[line.length - 1];
}

/** @param {Step[]} steps @param {(key: string) => unknown} ticked @param {number} [from] @returns {number} the first step that is not ticked; -1: none */
export function nextStep(steps, ticked, from) {
  for (let i = from || 0; i < steps.length; i++) if (!ticked(steps[i].key)) return i;
  return steps.findIndex((s) => s.block !== "" && !ticked(s.key));
}

/**
 * Where to begin when some of it is ticked already: the first open lane, or the
 * way to it; ways to what is done are behind. @param {Step[]} steps @param {(key: string) => unknown} ticked @returns {number} -1: none
 */
export function firstOpen(steps, ticked) {
  let i = steps.findIndex((s) => s.block !== "" && !ticked(s.key));
  if (i < 0) return nextStep(steps, ticked, 1 + steps.map((s) => s.block !== "").lastIndexOf(true));
  while (i > 0 && steps[i - 1].block === "" && !ticked(steps[i - 1].key)) i--;
  return i;
}
