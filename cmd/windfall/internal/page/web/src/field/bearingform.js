// A sighting by direction: what it was, on which bearing, how high above the horizon.
import { el, newId, say } from "../dom.js";
import { norm } from "./frame.js";
import { bearingWord, metresWord, pair } from "./words.js";

export const events = /** @type {[string, string][]} */ ([["landing", "coming down on the ground"], ["lost", "going out of sight"], ["opening", "device open"], ["ejection", "ejection"], ["apogee", "highest point"], ["burnout", "burnout"], ["now", "flying just now"]]);
const sure = [["2", "sharp, within 2° or so"], ["5", "fair, 5°"], ["10", "rough, 10°"], ["20", "about there, 20°"]];

export class BearingForm {
  kind = "bearing";
  name = "I saw it";
  stands = true;

  /** @param {import("./stand.js").Stand} stand @param {import("./direction.js").Direction} direction @param {() => void} changed */
  constructor(stand, direction, changed) {
    this.stand = stand;
    this.direction = direction;
    const id = newId();
    this.event = el("select", { id: id + "e", onchange: changed }, ...events.map(([v, t]) => el("option", { value: v }, t)));
    this.spread = el("select", { id: id + "s", onchange: changed }, ...sure.map(([v, t]) => el("option", { value: v, selected: v === "5" }, t)));
    this.up = el("input", { id: id + "u", type: "number", inputMode: "decimal", min: "-90", max: "90", step: "0.5", placeholder: "leave empty if not known", oninput: changed });
    direction.addEventListener("taken", (e) => {
      const a = /** @type {CustomEvent} */ (e).detail;
      if (a.compass) this.spread.value = a.spread > 12 ? "20" : "10";
      if (a.up !== null && a.up > 1) this.up.value = String(Math.round(a.up));
      changed();
    });
  }

  /** @returns {HTMLElement[]} */
  fields() { return [pair("It was", this.event), this.direction.box, pair("How sure", this.spread), pair("Height above the horizon, degrees", this.up)]; }

  /** @param {L.LayerGroup} _g */
  draw(_g) {}

  /** What it will be taken as. */
  words() {
    const up = this.up.value.trim(), at = this.stand.at, m = at && Math.hypot(...at);
    const high = up && this.event.value === "apogee" && m && +up > 0 && +up < 85 ? `, which is ${metresWord(m * Math.tan((+up * Math.PI) / 180))} up if it was above the pad` : "";
    return `${this.event.selectedOptions[0].text} on ${bearingWord(this.direction.deg)} true, ±${this.spread.value}°${up ? `, ${up}° above the horizon${high}` : ""}`;
  }

  /** @param {boolean} again an entry that was made is amended */
  entry(again) {
    const from = this.stand.said(), deg = from && this.direction.said(), up = this.up.value.trim(), event = this.event.value;
    if (!deg) return null;
    if (!this.up.validity.valid || (up && !(Math.abs(+up) <= 90))) {
      say("Write the height above the horizon as -90 to 90 degrees, or leave it empty.", true);
      return null;
    }
    return { from, ...deg, bearing_sd_deg: Number(this.spread.value), ...event !== "now" ? { event } : again ? {} : { timed: true }, ...up ? { elevation_deg: Number(up), elevation_sd_deg: 5 } : {} };
  }

  /** Shows what was logged, to be amended. @param {any} b @param {import("./stand.js").Stand} stand */
  amend(b, stand) {
    const f = b.from;
    if (f) stand.pick(stand.app.map.frame.toXY(f.lat, f.lon));
    this.direction.north.value = "true";
    if (typeof b.bearing_deg === "number") this.direction.draw(norm(b.bearing_deg));
    if (b.event && events.some(([v]) => v === b.event)) this.event.value = b.event;
    this.up.value = typeof b.elevation_deg === "number" ? String(b.elevation_deg) : "";
  }
}
