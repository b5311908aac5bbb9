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
 * The points of a GPX file's tracks, or of its routes where it has no track.
 * Times that are not there are NaN.
 * @param {string} text @returns {Fix[][]}
 */
export function readGPX(text) {
  const doc = new DOMParser().parseFromString(text, "application/xml");
  if (doc.querySelector("parsererror") || doc.documentElement.localName !== "gpx") throw new Error("this is not a GPX file");
  const named = (/** @type {Document | Element} */ e, /** @type {string} */ n) => [...e.getElementsByTagNameNS("*", n)];
  let groups = named(doc, "trkseg").map((s) => named(s, "trkpt"));
  if (!groups.some((g) => g.length)) groups = named(doc, "rte").map((r) => named(r, "rtept"));
  const pieces = groups.map((g) => g.map((p) => ({
    t: Date.parse(named(p, "time")[0]?.textContent || ""), lat: Number(p.getAttribute("lat")), lon: Number(p.getAttribute("lon")), acc: 10,
  })).filter((f) => Math.abs(f.lat) <= 90 && Math.abs(f.lon) <= 180 && !(f.lat === 0 && f.lon === 0))).filter((p) => p.length > 1);
  if (!pieces.length) throw new Error("this GPX file holds no track");
  return pieces;
}
