// From where something was seen: where this phone is, or a point on the map.
import { button, el, say } from "../dom.js";

/** @typedef {import("./frame.js").XY} XY */

export class Stand extends EventTarget {
  /** @param {import("./crewapp.js").App} app */
  constructor(app) {
    super();
    this.app = app;
    /** @type {XY | null} a point on the map, in place of the phone's position */
    this.point = null;
    this.picking = false;
    this.words = el("p", { class: "where" });
    this.box = el("div", {}, this.words, el("div", { class: "chips" }, button("I stand here", () => this.pick(null)),
      button("Tap a point", () => { this.picking = true; say("Tap the map where you stood."); })));
  }

  /** @returns {XY | null} */
  get at() {
    const p = this.app.place();
    return this.point || (p ? this.app.map.frame.toXY(p.lat, p.lon) : null);
  }

  /** @param {XY | null} xy null: where the phone is */
  pick(xy) {
    this.picking = false;
    this.point = xy;
    if (!xy && !this.app.place()) say("No position yet. Press Follow me under Search, or tap a point of the map.", true);
    const at = this.at;
    if (at) this.app.map.map.panInside(this.app.map.at(at), { padding: [80, 80] });
    this.dispatchEvent(new Event("change"));
    this.show();
  }

  /** As entries have it; null, and it is said, where nothing is known. */
  said() {
    const at = this.at;
    if (!at) {
      say("Say first where you stood: press I stand here, or tap a point of the map.", true);
      return null;
    }
    const [lat, lon] = this.app.map.at(at);
    return { lat: +lat.toFixed(7), lon: +lon.toFixed(7) };
  }

  show() {
    const at = this.at, p = this.app.place();
    this.words.textContent = this.point && at ? `From ${Math.round(Math.hypot(...at))} m off the pad, as set on the map.` : at && p ? `From where you stand, ±${Math.round(p.acc)} m.` : "From where? No position yet.";
  }
}
