// What is said beside every plan: cautions and places.
import { button, el } from "../dom.js";
import { metresWord } from "./words.js";

/** @typedef {import("./chart").Chart} Chart */

// The usual cautions of work in the open (common practice, no source).
const usual = [
  "Eyes up while you walk. Stop before you read the screen.",
  "Keep off power lines and out of water; call the owner of the line for what hangs in it.",
  "Cross roads and railways only where it is allowed. Leave gates as you find them, keep away from livestock, and ask before you enter ground that is not yours.",
  "Drones keep away from people and within your country's rules.",
  "Turn back before dusk, cold and thirst decide for you. Tell somebody when you leave and when you are back.",
  "A motor or an ejection charge may still be live: stand off, look, make it safe before you lift it.",
  "Local codes and the range safety officer come before anything this page says.",
];

/** What is said before anybody walks. */
export function usualList() {
  return [el("h2", {}, "Before you walk"), el("ul", { class: "caution" }, ...usual.map((t) => el("li", {}, t)))];
}

/** @param {Chart} c */
export function cautionList(c) {
  return [...usualList(),
    ...(c.contacts || []).length ? [el("h2", {}, "Whom to call"), el("ul", {}, .../** @type {string[]} */ (c.contacts).map((t) => el("li", {}, t)))] : [],
    ...(c.cautions || []).length ? [el("details", { class: "group" }, el("summary", {}, "What to know about this plan"), el("ul", {}, .../** @type {string[]} */ (c.cautions).map((t) => el("li", {}, t))))] : []];
}

/** @param {Chart} c @param {import("./chartmap.js").ChartMap} map */
export function placeList(c, map) {
  /** @type {[string, import("./frame.js").XY][]} */
  const all = [["pad", [0, 0]], ...(c.spots || []).map((s, i) => /** @type {[string, import("./frame.js").XY]} */ (["likely " + (i + 1), s.at])),
    ...(c.parts || []).map((s) => /** @type {[string, import("./frame.js").XY]} */ ([s.name, s.at])),
    ...(c.searchers || []).flatMap((s) => s.stages.filter((g) => g.block).map((g) => /** @type {[string, import("./frame.js").XY]} */ (["begin " + g.block, g.lanes?.[0]?.[0] || g.path[0]]))),
    ...(c.crossings || []).map((s) => /** @type {[string, import("./frame.js").XY]} */ ([s.name || "crossing", s.at]))];
  return [el("h2", {}, "Places"), el("ul", { class: "places" }, ...all.map(([name, at]) => {
    const [lat, lon] = map.at(at);
    return el("li", {}, el("span", {}, el("b", {}, name), ` ${lat.toFixed(5)}, ${lon.toFixed(5)}`, el("span", { class: "soft" }, at[0] || at[1] ? ` ${metresWord(Math.hypot(...at))} from the pad` : "")),
      button("Show", () => map.map.setView([lat, lon], 17, { animate: false }), { "aria-label": "Show " + name }));
  }))];
}
