// Metres east and north of the pad, and back: the frame of the program's maps
// (geo.Frame), by the mid-latitude formulas of Gauss on the WGS 84 ellipsoid.
// They keep to the geodesic within 1 cm as far as 10 km out; frame.test.js holds
// them to it.

/** @typedef {[number, number]} XY metres east, metres north */

const a = 6378137, f = 1 / 298.257223563, e2 = f * (2 - f); // WGS 84 (NIMA TR8350.2)
const rad = Math.PI / 180;

/** @param {{lat: number, lon: number}} pad degrees */
export function frameOf(pad) {
  /** @param {number} lat @param {number} lon degrees @returns {XY} */
  const toXY = (lat, lon) => {
    let turn = lon - pad.lon;
    turn -= 360 * Math.round(turn / 360);
    const m = rad * (lat + pad.lat) / 2, dLat = rad * (lat - pad.lat), dLon = rad * turn;
    const w = 1 - e2 * Math.sin(m) ** 2;
    const north = (a * (1 - e2) / w ** 1.5) * dLat * Math.cos(dLon / 2), east = (a / Math.sqrt(w)) * Math.cos(m) * dLon;
    const s = Math.hypot(east, north), at = Math.atan2(east, north) - dLon * Math.sin(m) / 2;
    return [s * Math.sin(at), s * Math.cos(at)];
  };
  /** @param {XY} p @returns {[number, number]} latitude, longitude in degrees */
  const toLatLng = ([x, y]) => {
    let lat = pad.lat, lon = pad.lon;
    for (let i = 0; i < 5; i++) { // the formulas backward: each round leaves a thousandth of the error
      const [px, py] = toXY(lat, lon), w = 1 - e2 * Math.sin(rad * lat) ** 2;
      lat += (y - py) / (a * (1 - e2) / w ** 1.5) / rad;
      lon += (x - px) / (a / Math.sqrt(w) * Math.cos(rad * lat)) / rad;
    }
    return [lat, lon];
  };
  return { toXY, toLatLng };
}

/** @param {XY} from @param {XY} to @returns {number} degrees true, 0 to 360 */
export function bearingOf(from, to) {
  return norm(Math.atan2(to[0] - from[0], to[1] - from[1]) / rad);
}

/** @param {number} deg @returns {number} in [0, 360) */
export function norm(deg) { return ((deg % 360) + 360) % 360; }

/** How far one has to turn, right positive. @param {number} from @param {number} to degrees @returns {number} in [-180, 180) */
export function turn(from, to) { return norm(to - from + 180) - 180; }

/** @param {XY} p @param {XY} q */
export function distance(p, q) { return Math.hypot(q[0] - p[0], q[1] - p[1]); }

/** The point so far (m) on a bearing. @param {XY} p @param {number} m @param {number} deg @returns {XY} */
export function polar(p, m, deg) { return [p[0] + m * Math.sin(rad * deg), p[1] + m * Math.cos(rad * deg)]; }
