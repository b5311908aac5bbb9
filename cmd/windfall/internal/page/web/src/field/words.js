// Figures and fields as the field's pages say them.
import { Refusal } from "../api.js";
import { el } from "../dom.js";

/** @param {number} m */
export function metresWord(m) { return m < 1000 ? Math.round(m) + " m" : (m / 1000).toFixed(m < 10000 ? 2 : 1) + " km"; }

/** @param {number} deg */
export function bearingWord(deg) { return String(Math.round(((deg % 360) + 360) % 360) % 360).padStart(3, "0") + "°"; }

/** @param {number} deg true @param {number | undefined} declination */
export function compassWord(deg, declination) {
  return declination === undefined || Math.abs(declination) < 0.5 ? "" : "compass " + bearingWord(deg - declination);
}

/** @param {number} ms */
export function clockWord(ms) { return new Date(ms).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }); }

/** @param {number} ms */
export function spanWord(ms) {
  const s = Math.round(ms / 1000);
  return s < 90 ? s + " s" : s < 5400 ? Math.round(s / 60) + " min" : s < 172800 ? (s / 3600).toFixed(1) + " h" : Math.round(s / 86400) + " days";
}

/** @param {number} n @param {string} one @param {string} [many] */
export function count(n, one, many) { return n + " " + (n === 1 ? one : many || one + "s"); }

/** How far beside a lane. @param {number} off m, right positive @param {number} accuracy m */
export function offWord(off, accuracy) {
  const m = Math.round(Math.abs(off));
  if (m <= Math.max(2, accuracy / 3)) return { words: "on it", side: "" };
  return { words: m + " m", side: off > 0 ? "too far right" : "too far left" };
}

/** A field under its label. @param {string} label @param {HTMLElement} input */
export function pair(label, input) { return el("p", { class: "pair" }, el("label", { for: input.id }, label), input); }

/** Why the laptop did not work something out. @param {unknown} err */
export function whyNot(err) {
  if (err instanceof Refusal && err.status === 0) return "Out of range: the laptop works this out. What you say is kept, and sent when you are back.";
  return /** @type {Error} */ (err).message;
}
