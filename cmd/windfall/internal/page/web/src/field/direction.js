// Which way somebody looked: a line turned on the map, a number, or the phone's
// own compass and tilt.
import { button, el, newId, say } from "../dom.js";
import { norm } from "./frame.js";
import { SightLine } from "./sight.js";
import { watchAttitude } from "./tilt.js";
import { bearingWord, pair } from "./words.js";

export class Direction extends EventTarget {
  /** @param {import("./crewapp.js").App} app @param {import("./stand.js").Stand} stand */
  constructor(app, stand) {
    super();
    this.app = app;
    this.stand = stand;
    this.line = new SightLine(app.map, (deg) => this.turned(deg));
    const id = newId();
    this.bearing = el("input", { id: id + "b", type: "number", inputMode: "numeric", min: "0", max: "360", step: "1", value: "0", oninput: () => this.draw(this.written()) });
    this.north = el("select", { id: id + "n", onchange: () => this.draw(this.line.deg) }, el("option", { value: "true" }, "from true north"), el("option", { value: "magnetic" }, "by compass"));
    this.attitude = el("p", { role: "status" });
    this.box = el("div", {}, el("div", { class: "two" }, pair("Bearing, degrees", this.bearing), pair("Counted", this.north)),
      el("p", { class: "soft" }, "Or turn the line on the map by its round end."),
      el("div", { class: "chips" }, button("Compass and tilt", () => this.watch())), this.attitude);
    stand.addEventListener("change", () => { if (this.shown) this.line.stand(stand.at); });
  }

  /** The number as a true bearing. */
  written() { return Number(this.bearing.value) + (this.north.value === "magnetic" ? this.app.declination : 0); }

  /** True bearing of the line, degrees. */
  get deg() { return this.line.deg; }

  /** @param {boolean} yes whether it is looked at */
  show(yes) {
    this.shown = yes;
    if (!yes) this.stop();
    this.line.stand(yes ? this.stand.at : null);
  }

  stop() {
    this.stopWatching?.();
    this.stopWatching = undefined;
    this.attitude.replaceChildren();
  }

  /** @param {number} deg true */
  turned(deg) {
    this.bearing.value = String(Math.round(norm(this.north.value === "magnetic" ? deg - this.app.declination : deg)));
    this.dispatchEvent(new Event("turn"));
  }

  /** @param {number} deg true */
  draw(deg) {
    this.line.draw(norm(deg));
    if (document.activeElement !== this.bearing) this.turned(deg); // not under the hand that writes it
    else this.dispatchEvent(new Event("turn"));
  }

  /** As entries have it; null, and it is said, where the number is no direction. */
  said() {
    const deg = Number(this.bearing.value);
    if (this.bearing.value.trim() && deg >= 0 && deg <= 360) return { bearing_deg: deg, north: this.north.value };
    say("Write the bearing as 0 to 360 degrees, or turn the line on the map.", true);
    return null;
  }

  async watch() {
    if (this.stopWatching) {
      this.stop();
      return;
    }
    this.attitude.replaceChildren("Hold the phone flat before you and point its top edge at the place.");
    const now = el("span"), take = button("Take it", () => this.take(), { class: "act" }); // made once: a slow thumb finds it where it was
    this.stopWatching = await watchAttitude((a) => {
      this.held = a;
      now.textContent = this.words(a);
      if (!take.isConnected) this.attitude.replaceChildren(now, take);
    }, (why) => this.attitude.replaceChildren(why));
  }

  /** @param {import("./tilt.js").Attitude} a */
  words(a) {
    const t = this.trueOf(a), up = a.up === null ? "no tilt. " : `${Math.round(a.up)}° up. `;
    return (t === null ? "No compass; " : `${bearingWord(t)} true (compass ${bearingWord(a.magnetic || 0)}), ±${Math.round(a.spread)}°; `) + up;
  }

  /** @param {import("./tilt.js").Attitude} a */
  trueOf(a) { return a.magnetic === null ? null : norm(a.magnetic + this.app.declination); }

  take() {
    const a = this.held, t = a && this.trueOf(a);
    if (!a) return;
    if (typeof t === "number") this.draw(t);
    this.dispatchEvent(new CustomEvent("taken", { detail: { compass: t !== null, spread: a.spread, up: a.up } }));
  }
}
