// Ground that somebody watched, as outlines in metres of the pad's frame: pure
// geometry.
import { polar } from "./frame.js";

/** @typedef {import("./frame.js").XY} XY */

const step = 5; // degrees of an arc at most between two points of it: 0.1 % short

/**
 * What is seen from a place around a bearing, between two distances.
 * @param {XY} from @param {number} deg the middle, true @param {number} width degrees, in all @param {number} near m @param {number} far m
 * @returns {XY[]} counterclockwise, not closed
 */
export function sector(from, deg, width, near, far) {
  const n = Math.max(1, Math.ceil(width / step)), left = deg - width / 2;
  const arc = (/** @type {number} */ m) => Array.from({ length: n + 1 }, (_, i) => polar(from, m, left + (width * i) / n));
  return [...arc(far).reverse(), ...near > 0 ? arc(near) : [/** @type {XY} */ ([from[0], from[1]])]];
}

/** Signed area, m²: positive counterclockwise. @param {XY[]} ring not closed */
export function areaOf(ring) {
  let a = 0;
  ring.forEach(([x, y], i) => {
    const [u, v] = ring[(i + 1) % ring.length];
    a += x * v - u * y;
  });
  return a / 2;
}

/** Whether an outline crosses itself. @param {XY[]} ring not closed */
export function crosses(ring) {
  const n = ring.length, at = (/** @type {number} */ i) => ring[i % n];
  for (let i = 0; i < n; i++) for (let j = i + 2; j < n; j++) {
    if (i === 0 && j === n - 1) continue; // neighbours
    if (meet(at(i), at(i + 1), at(j), at(j + 1))) return true;
  }
  return false;
}

/** @param {XY} a @param {XY} b @param {XY} c @param {XY} d */
function meet(a, b, c, d) {
  const side = (/** @type {XY} */ p, /** @type {XY} */ q, /** @type {XY} */ r) => Math.sign((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]));
  return side(a, b, c) !== side(a, b, d) && side(c, d, a) !== side(c, d, b);
}

/**
 * An outline as GeoJSON has it (RFC 7946): closed, counterclockwise, longitude first.
 * @param {XY[]} ring not closed @param {(p: XY) => [number, number]} latLng
 */
export function geometryOf(ring, latLng) {
  const round = areaOf(ring) < 0 ? ring.slice().reverse() : ring;
  const points = [...round, round[0]].map((p) => latLng(p)).map(([lat, lon]) => [+lon.toFixed(7), +lat.toFixed(7)]);
  return { type: "MultiPolygon", coordinates: [[points]] };
}
