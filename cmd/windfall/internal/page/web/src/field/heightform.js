// A height: what an altimeter, a transmitter or an eye says of how high it went.
import { button, el, newId, say } from "../dom.js";
import { pair } from "./words.js";

const events = [["apogee", "highest point"], ["ejection", "ejection"], ["opening", "device open"], ["burnout", "burnout"]];
const feet = 0.3048, highest = 50000; // m; m
// Shares of the height: the first is the program's own, the others choices of ours.
const spreads = [["0.03", "an altimeter, 3 %"], ["0.1", "a good guess, 10 %"], ["0.25", "a rough guess, 25 %"]];

export class HeightForm {
  kind = "height";
  name = "How high";
  stands = false;

  /** @param {() => void} byAngle somebody has an angle in place of a height @param {() => void} changed */
  constructor(byAngle, changed) {
    const id = newId();
    this.event = el("select", { id: id + "e", onchange: changed }, ...events.map(([v, t]) => el("option", { value: v }, t)));
    this.height = el("input", { id: id + "h", type: "number", inputMode: "decimal", min: "0", step: "any", placeholder: "such as 240", oninput: changed });
    this.unit = el("select", { id: id + "u", onchange: changed }, el("option", { value: "1" }, "metres"), el("option", { value: String(feet) }, "feet"));
    this.spread = el("select", { id: id + "s", onchange: changed }, ...spreads.map(([v, t]) => el("option", { value: v }, t)));
    this.angle = button("I have an angle, not a height", byAngle);
  }

  /** @returns {HTMLElement[]} */
  fields() {
    return [pair("It was at", this.event), el("div", { class: "two" }, pair("Above the pad", this.height), pair("In", this.unit)),
      pair("Who says so", this.spread), el("div", { class: "chips" }, this.angle)];
  }

  /** @param {L.LayerGroup} _g */
  draw(_g) {}

  /** Metres; NaN: none is written. */
  get metres() { return this.height.value.trim() ? Number(this.height.value) * Number(this.unit.value) : NaN; }

  /** Standard deviation, m, as the program has it where nobody says (docs/evidence.md). */
  get sd() { return Math.max(5, Number(this.spread.value) * this.metres); }

  words() {
    const m = this.metres;
    return m >= 0 ? `${Math.round(m)} m above the pad, ±${Math.round(this.sd)} m, at ${this.event.selectedOptions[0].text}` : "";
  }

  /** @param {boolean} again an entry that was made is amended */
  entry(again) {
    const m = this.metres;
    if (!(m > 0 && m <= highest) || !this.height.validity.valid) {
      say("Write how high it was above the pad, above 0 and at most 50 km.", true);
      return null;
    }
    const byRule = this.spread.value === spreads[0][0];
    return { event: this.event.value, height_m: m, ...byRule && !again ? {} : { height_sd_m: Math.round(10 * this.sd) / 10 } };
  }

  /** Shows what was logged, to be amended. @param {any} b */
  amend(b) {
    this.height.value = String(b.height_m ?? "");
    this.unit.value = "1";
    if (b.event) this.event.value = b.event;
    const share = b.height_sd_m / b.height_m || 0;
    this.spread.value = (spreads.find(([v]) => share < 1.5 * Number(v)) || spreads[2])[0];
  }
}
