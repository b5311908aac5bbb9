// Small pictures of numbers; each has its numbers in words beside it.
import { el, svg } from "./dom.js";
import { bearing } from "./units.js";

/** @typedef {import("./types").WindCurve} WindCurve */

/** @param {number} most @returns {number} a step of 1, 2 or 5 that cuts most into about four */
function step(most) {
  const raw = Math.max(most, 1e-9) / 4, ten = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((k) => k * ten).find((s) => s >= raw) || 10 * ten;
}

/** @param {WindCurve[]} curves */
function tops(curves) {
  const all = curves.flatMap((c) => c.points);
  return { height: Math.max(10, ...all.map((p) => p.height_m)), speed: Math.max(2, ...all.map((p) => Math.hypot(p.u_mps, p.v_mps))) };
}

/** @param {{u_mps: number, v_mps: number}} p */
const from = (p) => ((Math.atan2(-p.u_mps, -p.v_mps) * 180) / Math.PI + 360) % 360;

/** @param {WindCurve[]} curves */
export function windWords(curves) {
  const best = likeliest(curves);
  const rows = best.points.filter((_, i) => i % 4 === 0);
  return el("table", {}, el("caption", {}, "Wind by height"),
    el("thead", {}, el("tr", {}, ...["height", "from", "speed"].map((t) => el("th", { scope: "col" }, t)))),
    el("tbody", {}, ...rows.map((p) => el("tr", {}, el("td", {}, Math.round(p.height_m) + " m"), el("td", {}, bearing(from(p))),
      el("td", {}, Math.hypot(p.u_mps, p.v_mps).toFixed(1) + " m/s")))));
}

/** @param {WindCurve[]} curves */
function likeliest(curves) { return curves.reduce((a, b) => (b.weight > a.weight ? b : a), curves[0]); }

/** Speed by height. @param {WindCurve[]} curves */
export function profile(curves) {
  const t = tops(curves), w = 300, h = 260, left = 46, low = 34;
  /** @param {number} s */ const x = (s) => left + (s / t.speed) * (w - left - 16);
  /** @param {number} z */ const y = (z) => h - low - (z / t.height) * (h - low - 14);
  const g = [];
  for (let s = 0; s <= t.speed; s += step(t.speed)) g.push(svg("line", { x1: x(s), y1: 14, x2: x(s), y2: h - low, class: "rule" }), svg("text", { x: x(s), y: h - 16, class: "mid" }, String(+s.toPrecision(3))));
  for (let z = 0; z <= t.height; z += step(t.height)) g.push(svg("line", { x1: left, y1: y(z), x2: w - 16, y2: y(z), class: "rule" }), svg("text", { x: left - 6, y: y(z) + 4, class: "end" }, String(+z.toPrecision(3))));
  for (const c of curves) {
    g.push(svg("polyline", { class: curves.length > 1 ? "curve one-of" : "curve", points: c.points.map((p) => x(Math.hypot(p.u_mps, p.v_mps)).toFixed(1) + "," + y(p.height_m).toFixed(1)).join(" ") }));
  }
  g.push(svg("text", { x: (w + left) / 2, y: h - 2, class: "mid" }, "speed, m/s"), svg("text", { x: 2, y: 10 }, "height, m"));
  return svg("svg", { viewBox: `0 0 ${w} ${h}`, role: "img", class: "chart", "aria-label": "Wind speed by height; the table has the numbers" }, ...g);
}

/** The way the wind carries, from the ground up. @param {WindCurve[]} curves */
export function hodograph(curves) {
  const t = tops(curves), w = 280, c = w / 2, r = c - 22, s = step(t.speed);
  const g = [svg("line", { x1: c, y1: 8, x2: c, y2: w - 8, class: "rule" }), svg("line", { x1: 8, y1: c, x2: w - 8, y2: c, class: "rule" })];
  for (let k = s; k <= t.speed * 1.05; k += s) {
    g.push(svg("circle", { cx: c, cy: c, r: (k / t.speed) * r, class: "rule" }), svg("text", { x: c + 3, y: c - (k / t.speed) * r - 2 }, String(+k.toPrecision(3))));
  }
  /** @param {{u_mps: number, v_mps: number}} p */
  const at = (p) => [c + (p.u_mps / t.speed) * r, c - (p.v_mps / t.speed) * r];
  for (const k of curves) g.push(svg("polyline", { class: curves.length > 1 ? "curve one-of" : "curve", points: k.points.map((p) => at(p).map((v) => v.toFixed(1)).join(",")).join(" ") }));
  const best = likeliest(curves).points;
  [0, Math.floor(best.length / 2), best.length - 1].forEach((i) => {
    const [x, y] = at(best[i]);
    g.push(svg("circle", { cx: x, cy: y, r: 4, class: "dot" }), svg("text", { x: x + 6, y: y + 4 }, Math.round(best[i].height_m) + " m"));
  });
  g.push(svg("text", { x: c + 4, y: 12 }, "N"), svg("text", { x: w - 10, y: c - 4, class: "end" }, "E"));
  return svg("svg", { viewBox: `0 0 ${w} ${w}`, role: "img", class: "chart", "aria-label": "Hodograph: the way the wind carries at each height, in metres a second; the table has the numbers" }, ...g);
}

/** What spreads the landings. @param {{name: string, share: number}[]} shares */
export function bars(shares) {
  const list = el("ul", { class: "bars" });
  for (const s of shares.filter((x) => x.share >= 0.005).slice(0, 9)) {
    const bar = el("i", {});
    bar.style.width = Math.max(1, 100 * s.share) + "%";
    list.append(el("li", {}, el("span", {}, s.name), el("span", { class: "track", "aria-hidden": "true" }, bar), el("b", {}, Math.round(100 * s.share) + " %")));
  }
  return list;
}
