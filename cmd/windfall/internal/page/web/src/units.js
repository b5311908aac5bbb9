// Quantities as people write them, "1.65 m", taken apart and put together.

/** @type {import("./types").Keys["units"]} */
let units = {};

/** @param {import("./types").Keys["units"]} u */
export function useUnits(u) { units = u; }

/** @param {string} kind @returns {string[]} */
export function unitsOf(kind) { return Object.keys(units[kind] || {}); }

/** @param {string} text @returns {{number: string, unit: string}} */
export function split(text) {
  const m = /^\s*([-+]?[0-9.]*(?:[eE][-+]?[0-9]+)?)\s*(.*?)\s*$/.exec(text);
  return m ? { number: m[1], unit: m[2] } : { number: "", unit: text };
}

/** @param {string} number @param {string} unit */
export function join(number, unit) { return number.trim() === "" ? "" : unit ? number.trim() + " " + unit : number.trim(); }

/**
 * The number in another unit, with no more figures than it had and two.
 * @param {string} number @param {string} kind @param {string} from @param {string} to
 */
export function convert(number, kind, from, to) {
  const a = units[kind]?.[from], b = units[kind]?.[to], v = Number(number);
  if (a === undefined || b === undefined || number.trim() === "" || Number.isNaN(v)) return number;
  const [fa, oa] = Array.isArray(a) ? a : [a, 0], [fb, ob] = Array.isArray(b) ? b : [b, 0];
  return String(Number(((v * fa + oa - ob) / fb).toPrecision(4)));
}

/** The SI value of a quantity; NaN where it is none. @param {string} text @param {string} kind */
export function si(text, kind) {
  const { number, unit } = split(text), u = units[kind]?.[unit];
  if (u === undefined || number === "") return NaN;
  return Array.isArray(u) ? Number(number) * u[0] + u[1] : Number(number) * u;
}

/** @param {number} p 0 to 1 @param {number | null} [se] */
export function percent(p, se) {
  const show = (/** @type {number} */ x) => (100 * x).toFixed(p < 0.01 && p > 0 ? 2 : 1);
  return show(p) + " %" + (se ? " ± " + show(se) : "");
}

/** @param {number} m2 */
export function hectares(m2) { return m2 < 10000 ? Math.round(m2) + " m²" : (m2 / 10000).toFixed(1) + " ha"; }

/** @param {number} deg */
export function bearing(deg) { return String(Math.round(((deg % 360) + 360) % 360) % 360).padStart(3, "0") + "°"; }
