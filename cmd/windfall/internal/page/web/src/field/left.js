// What is left, as GET /api/v1/left has it, in the terms of a chart.

/** @typedef {import("./chart").Chart} Chart */

/**
 * A chart with what is left in place of its areas.
 * @param {Chart} chart @param {any} left null: not asked for yet @param {{toXY: (lat: number, lon: number) => import("./frame.js").XY}} frame
 * @returns {Chart}
 */
export function withLeft(chart, left, frame) {
  const shapes = left?.shapes?.features || [];
  if (!shapes.length) return chart;
  const xy = (/** @type {number[]} */ p) => frame.toXY(p[1], p[0]);
  const of = (/** @type {string} */ kind) => shapes.filter((/** @type {any} */ f) => f.properties.kind === kind);
  const ringsOf = (/** @type {any} */ g) => (g.type === "Polygon" ? g.coordinates : g.coordinates.flat()).map((/** @type {number[][]} */ r) => r.map(xy));
  const linesOf = (/** @type {any} */ g) => (g.type === "LineString" ? [g.coordinates] : g.coordinates).map((/** @type {number[][]} */ l) => l.map(xy));
  return { ...chart, picture: left.picture,
    areas: of("area").map((/** @type {any} */ f) => ({ probability: f.properties.probability, rings: ringsOf(f.geometry) })),
    spots: of("spot").map((/** @type {any} */ f) => ({ name: f.properties.name, at: xy(f.geometry.coordinates) })),
    covered: of("covered").flatMap((/** @type {any} */ f) => linesOf(f.geometry).map((/** @type {any} */ path) => ({ name: f.properties.by, path, width_m: f.properties.width_m }))),
    sightings: of("sighting").flatMap((/** @type {any} */ f) => linesOf(f.geometry).map((/** @type {any} */ l) => ({ by: f.properties.by, from: l[0], to: l[l.length - 1], bearing_deg: f.properties.bearing_deg, text: f.properties.text }))) };
}
