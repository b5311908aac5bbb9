// Who watched and saw nothing come down: a direction as far as one could see, or
// ground outlined on the map.
import { button, el, newId, say } from "../dom.js";
import { L, mark } from "./chartmap.js";
import { areaOf, crosses, geometryOf, sector } from "./watched.js";
import { bearingWord, count, metresWord, pair } from "./words.js";

/** @typedef {import("./frame.js").XY} XY */

const widths = [["20", "20°, a fist at arm's length each side"], ["40", "40°"], ["60", "60°"], ["90", "90°, a quarter round"], ["180", "180°, all before me"]];
const sure = [["0.95", "I can hardly have missed it"], ["0.8", "most likely I had seen it"], ["0.5", "I may well have missed it"]];
const farthest = 20000; // m

export class NothingForm {
  kind = "nothing";
  name = "Saw nothing";

  /** @param {import("./crewapp.js").App} app @param {import("./stand.js").Stand} stand @param {import("./direction.js").Direction} direction @param {() => void} changed the form asks for other fields, or means another thing */
  constructor(app, stand, direction, changed) {
    this.app = app;
    this.stand = stand;
    this.direction = direction;
    this.changed = changed;
    this.byMap = false;
    /** @type {XY[]} corners of ground on the map */
    this.corners = [];
    const id = newId(), metres = { type: "number", inputMode: "numeric", min: "0", max: String(farthest), step: "10", oninput: changed };
    this.width = el("select", { id: id + "w", onchange: changed }, ...widths.map(([v, t]) => el("option", { value: v, selected: v === "40" }, t)));
    this.near = el("input", { id: id + "n", ...metres, value: "0" });
    this.far = el("input", { id: id + "f", ...metres, value: "400" });
    this.sure = el("select", { id: id + "s", onchange: changed }, ...sure.map(([v, t]) => el("option", { value: v, selected: v === "0.8" }, t)));
    this.way = button("A direction", () => this.turn(false), { "aria-pressed": "true" });
    this.map = button("On the map", () => this.turn(true), { "aria-pressed": "false" });
    this.tally = el("p", { role: "status" });
    const choose = el("div", { class: "chips", role: "group", "aria-label": "What you watched" }, this.way, this.map), last = pair("Had it come down there", this.sure);
    this.onLine = [choose, direction.box, pair("How wide you watched", this.width), el("div", { class: "two" }, pair("From, metres", this.near), pair("As far as, metres", this.far)), last];
    this.onMap = [choose, this.tally, el("div", { class: "chips" }, button("Take one back", () => this.cut(-1)), button("Begin anew", () => this.cut(0))), last];
  }

  get stands() { return !this.byMap; }

  /** @param {boolean} byMap */
  turn(byMap) {
    this.byMap = byMap;
    this.way.setAttribute("aria-pressed", String(!byMap));
    this.map.setAttribute("aria-pressed", String(byMap));
    this.changed();
  }

  /** @returns {HTMLElement[]} the same each time: what is written in stays under the hand */
  fields() { return this.byMap ? this.onMap : this.onLine; }

  /** A tap on the map. @param {XY} xy */
  tapped(xy) {
    if (!this.byMap) return;
    this.corners.push(xy);
    this.changed();
  }

  /** @param {number} to where the corners end */
  cut(to) {
    this.corners = this.corners.slice(0, to);
    this.changed();
  }

  /** @returns {XY[]} not closed; empty: not there yet */
  get ring() {
    const at = this.stand.at, far = Number(this.far.value);
    if (this.byMap) return this.corners.length < 3 ? [] : this.corners;
    return at && far > Number(this.near.value) ? sector(at, this.direction.deg, Number(this.width.value), Number(this.near.value), far) : [];
  }

  /** @param {L.LayerGroup} g */
  draw(g) {
    const ring = this.ring, some = this.corners.length;
    this.tally.textContent = some < 3 ? `Tap the corners of the ground on the map, one after the other: ${some ? count(some, "corner") + " so far, three at least." : "three at least."}` : `${count(some, "corner")}. Tap more, or take some back.`;
    if (ring.length) L.polygon(this.app.map.line(ring), { interactive: false, className: "watched" }).addTo(g);
    else if (this.byMap && some) L.polyline(this.app.map.line(this.corners), { interactive: false, className: "watched open" }).addTo(g);
    if (this.byMap && some < 40) this.corners.forEach((p, i) => mark(this.app.map.at(p), "corner", String(i + 1), 500).addTo(g));
  }

  words() {
    const ring = this.ring;
    if (!ring.length) return "";
    const where = this.byMap ? "not in this ground" : `not within ${this.width.value}° of ${bearingWord(this.direction.deg)} true, ${+this.near.value ? metresWord(+this.near.value) + " to " : "as far as "}${metresWord(+this.far.value)}`;
    return `${where}: ${(Math.abs(areaOf(ring)) / 10000).toFixed(1)} ha, ${Math.round(100 * Number(this.sure.value))} % sure`;
  }

  entry() {
    const from = this.byMap ? {} : this.place(), why = this.fault();
    if (!from) return null;
    if (why) {
      say(why, true);
      return null;
    }
    return { ...from, geometry: geometryOf(this.ring, (p) => this.app.map.at(p)), sure: Number(this.sure.value) };
  }

  /** Where a direction was watched from; null, and it is said, where that or the direction is not there. */
  place() {
    const from = this.stand.said();
    return from && this.direction.said() ? { from } : null;
  }

  /** Why it cannot be logged. */
  fault() {
    const near = Number(this.near.value), far = Number(this.far.value);
    if (this.byMap) {
      if (this.corners.length < 3) return "Tap at least three corners of the ground on the map.";
      return crosses(this.corners) ? "The outline crosses itself. Take corners back and go round the ground once." : "";
    }
    return near >= 0 && far > near && far <= farthest ? "" : "Write from where to where you could see, in metres: the second is more than the first, and at most 20 km.";
  }

  /** Shows what was logged, to be amended. @param {any} b */
  amend(b) {
    const ring = b.geometry?.coordinates?.[0]?.[0] || [];
    this.corners = ring.slice(0, -1).map((/** @type {number[]} */ p) => this.app.map.frame.toXY(p[1], p[0]));
    this.sure.value = sure.map(([v]) => v).sort((a, c) => Math.abs(+a - b.sure) - Math.abs(+c - b.sure))[0];
    this.turn(true);
  }
}
