// Tracks as GPX 1.1, out and in.

/** @typedef {import("./chart").Fix} Fix */

/** @param {string} s */
function xml(s) {
  // eslint-disable-next-line no-control-regex
  return s.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, "").replace(/[&<>"']/g, (c) => "&#" + c.charCodeAt(0) + ";");
}

/**
 * A track with one segment a piece.
 * @param {string} name @param {Fix[][]} pieces @returns {string}
 */
export function writeGPX(name, pieces) {
  const out = ['<?xml version="1.0" encoding="UTF-8"?>', '<gpx version="1.1" creator="windfall" xmlns="http://www.topografix.com/GPX/1/1">', " <trk>", `  <name>${xml(name)}</name>`];
  for (const p of pieces) {
    out.push("  <trkseg>");
    for (const f of p) out.push(`   <trkpt lat="${f.lat.toFixed(7)}" lon="${f.lon.toFixed(7)}"><time>${new Date(f.t).toISOString()}</time></trkpt>`);
    out.push("  </trkseg>");
  }
  return [...out, " </trk>", "</gpx>", ""].join("\n");
}

/**
 * The recorded fixes of a GPX file, by segment, in the words of windfall
 * searched where it is none. A planned route is no track. Fixes without a time
 * are left out where others have one; where none has, times are NaN.
 * @param {string} text @returns {Fix[][]}
 */
export function readGPX(text) {
  const doc = new DOMParser().parseFromString(text, "application/xml");
  if (doc.querySelector("parsererror") || doc.documentElement.localName !== "gpx") throw new Error("this is not a GPX file; export the track again as GPX");
  const named = (/** @type {Document | Element} */ e, /** @type {string} */ n) => [...e.getElementsByTagNameNS("*", n)];
  const number = (/** @type {Element} */ p, /** @type {string} */ n) => Number(p.getAttribute(n)?.trim() || NaN);
  let all = named(doc, "trkseg").map((s) => named(s, "trkpt").map((p) => ({ t: Date.parse(named(p, "time")[0]?.textContent || ""), lat: number(p, "lat"), lon: number(p, "lon"), acc: 10 })));
  if (!all.some((p) => p.length)) throw new Error(named(doc, "rtept").length ? "this file holds a planned route, no recorded track; export the track itself" : "this file holds no track points; export the recorded track as GPX");
  for (const p of all) for (const f of p) if (!(Math.abs(f.lat) <= 90 && Math.abs(f.lon) <= 180)) throw new Error(`lat ${f.lat}, lon ${f.lon} is no place; export the track again`);
  if (all.some((p) => p.some((f) => f.t > 0))) all = all.map((p) => p.filter((f) => f.t > 0));
  const pieces = all.filter((p) => p.length > 1);
  if (!pieces.length) throw new Error("this track has a single fix; set the recorder to a fix every few seconds");
  return pieces;
}

// As windfall searched takes a track: seconds and metres without a fix, metres at
// most, and the speed above which nobody searches, over a minute. How fast a
// drone searches the page does not know: any speed is taken as its own.
const gapS = 90, gapM = 60, farM = 250, walkerMps = 2.8, windowS = 60;

/**
 * What of a loaded piece may count as walked: cut where fixes are missing,
 * without what is faster than anybody searches on foot.
 * @param {Fix[]} piece @param {(a: Fix, b: Fix) => number} metres @param {boolean} drone
 * @returns {Fix[][]}
 */
export function parts(piece, metres, drone) {
  const whole = pieceWise(piece, (a, b) => {
    const d = metres(a, b), s = (b.t - a.t) / 1000;
    return d > farM || (d > gapM && s > gapS) || s < 0;
  });
  return drone ? whole : whole.flatMap((p) => slow(p, metres));
}

/** @param {Fix[]} piece @param {(a: Fix, b: Fix, i: number) => boolean} cut whether it is cut before the i-th */
function pieceWise(piece, cut) {
  /** @type {Fix[][]} */
  const out = [];
  piece.forEach((f, i) => {
    if (!i || cut(piece[i - 1], f, i)) out.push([]);
    out[out.length - 1].push(f);
  });
  return out;
}

/** @param {Fix[]} p @param {(a: Fix, b: Fix) => number} metres */
function slow(p, metres) {
  const way = [0];
  for (let i = 1; i < p.length; i++) way.push(way[i - 1] + metres(p[i - 1], p[i]));
  let lo = 0, hi = 0;
  return pieceWise(p, (a, b, i) => {
    const mid = (a.t + b.t) / 2, half = 500 * windowS;
    while (p[lo].t < mid - half && lo < i - 1) lo++;
    while (hi < p.length - 1 && (hi < i || p[hi].t < mid + half)) hi++;
    return (way[hi] - way[lo]) / Math.max(1, (p[hi].t - p[lo].t) / 1000) > walkerMps;
  });
}

/** A name for what a track says, the same wherever it is loaded. @param {Fix[][]} pieces */
export function digest(pieces) {
  let a = 0x811c9dc5, b = 0x01234567; // two of FNV-1a, 32 bits each
  for (const c of JSON.stringify(pieces)) {
    a = Math.imul(a ^ c.charCodeAt(0), 0x01000193);
    b = Math.imul(b ^ c.charCodeAt(0), 0x01000193);
  }
  return [a, b].map((x) => (x >>> 0).toString(16).padStart(8, "0")).join("");
}
