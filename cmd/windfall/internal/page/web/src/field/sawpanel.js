// What somebody saw: from where, on which bearing, how high; what it does to the
// map; and which sighting disagrees.
import { ask } from "../api.js";
import { button, el, newId, say } from "../dom.js";
import { norm } from "./frame.js";
import { L } from "./chartmap.js";
import { drawShown, SightLine } from "./sight.js";
import { watchAttitude } from "./tilt.js";
import { bearingWord } from "./words.js";

/** @typedef {import("./crewapp.js").App} App */

const events = [["landing", "coming down on the ground"], ["lost", "going out of sight"], ["opening", "device open"], ["ejection", "ejection"], ["apogee", "highest point"], ["burnout", "burnout"], ["now", "flying just now"]];
const sure = [["2", "sharp, within 2° or so"], ["5", "fair, 5°"], ["10", "rough, 10°"], ["20", "about there, 20°"]];

export class SawPanel {
  /** @param {HTMLElement} box @param {App} app */
  constructor(box, app) {
    this.app = app;
    this.open = false;
    this.map = L.layerGroup().addTo(app.map.map);
    this.line = new SightLine(app.map, (deg) => this.turned(deg));
    this.form = el("div", {});
    this.result = el("div", { role: "status" });
    this.list = el("div", {});
    /** @type {import("./frame.js").XY | null} a point on the map, in place of the phone's position */
    this.point = null;
    this.amending = "";
    /** @type {any} */
    this.judged = null;
    box.append(this.form, this.result, this.list);
    app.map.map.on("click", (/** @type {any} */ e) => { if (this.open && this.picking) this.pick(app.map.frame.toXY(e.latlng.lat, e.latlng.lng)); });
    this.build();
    this.show();
  }

  build() {
    const id = newId();
    this.bearing = el("input", { id: id + "b", type: "number", inputMode: "numeric", min: "0", max: "360", step: "1", value: "0", oninput: () => this.draw(Number(this.bearing?.value) + (this.north?.value === "magnetic" ? this.app.declination : 0)) });
    this.north = el("select", { id: id + "n", onchange: () => this.draw(this.line.deg) }, el("option", { value: "true" }, "from true north"), el("option", { value: "magnetic" }, "by compass"));
    this.event = el("select", { id: id + "e" }, ...events.map(([v, t]) => el("option", { value: v }, t)));
    this.spread = el("select", { id: id + "s" }, ...sure.map(([v, t]) => el("option", { value: v, selected: v === "5" }, t)));
    this.up = el("input", { id: id + "u", type: "number", inputMode: "decimal", min: "-90", max: "90", step: "0.5", placeholder: "leave empty if not known" });
    this.from = el("p", { class: "where" });
    this.attitude = el("p", { role: "status" });
    this.compass = button("Compass and tilt", () => this.watch());
    this.title = el("h2", {}, "I saw it");
    this.save = button("Log it", () => this.log(), { class: "act" });
    const pair = (/** @type {string} */ label, /** @type {HTMLElement} */ input) => el("p", { class: "pair" }, el("label", { for: input.id }, label), input);
    this.form.replaceChildren(this.title, this.from,
      el("div", { class: "chips" }, button("I stand here", () => this.pick(null)), button("A point on the map", () => { this.picking = true; say("Tap the map where you stood."); })),
      pair("It was", this.event),
      el("div", { class: "two" }, pair("Bearing, degrees", this.bearing), pair("Counted", this.north)),
      el("p", { class: "soft" }, "Or turn the line on the map by its round end."),
      el("div", { class: "chips" }, this.compass), this.attitude,
      pair("How sure", this.spread), pair("Height above the horizon, degrees", this.up),
      el("div", { class: "thumbs" }, this.save, button("What it changes", () => this.preview())));
  }

  /** @param {boolean} open the panel is looked at */
  turnOn(open) {
    this.open = open;
    if (!open) {
      this.stopWatching?.();
      this.stopWatching = undefined;
      this.map.clearLayers();
    }
    this.line.stand(open ? this.stand() : null);
    this.show();
  }

  /** @returns {import("./frame.js").XY | null} */
  stand() {
    const p = this.app.place();
    return this.point || (p ? this.app.map.frame.toXY(p.lat, p.lon) : null);
  }

  /** @param {import("./frame.js").XY | null} xy */
  pick(xy) {
    this.picking = false;
    this.point = xy;
    if (!xy && !this.app.place()) say("No position yet. Press Follow me under Search, or choose a point on the map.", true);
    this.line.stand(this.stand());
    const at = this.stand();
    if (at) this.app.map.map.panInside(this.app.map.at(at), { padding: [80, 80] });
    this.show();
  }

  /** @param {number} deg true */
  turned(deg) {
    const d = this.north?.value === "magnetic" ? deg - this.app.declination : deg;
    if (this.bearing) this.bearing.value = String(Math.round(norm(d)));
  }

  /** @param {number} deg true */
  draw(deg) {
    this.line.draw(norm(deg));
    this.turned(deg);
  }

  async watch() {
    if (this.stopWatching) {
      this.stopWatching();
      this.stopWatching = undefined;
      this.attitude?.replaceChildren();
      return;
    }
    this.attitude?.replaceChildren("Hold the phone flat before you and point its top edge at the place.");
    this.stopWatching = await watchAttitude((a) => {
      const t = a.magnetic === null ? null : norm(a.magnetic + this.app.declination);
      this.attitude?.replaceChildren(t === null ? "No compass; " : `${bearingWord(t)} true (compass ${bearingWord(a.magnetic || 0)}), ±${Math.round(a.spread)}°; `, a.up === null ? "no tilt. " : `${Math.round(a.up)}° up. `,
        button("Take it", () => {
          if (t !== null) {
            this.draw(t);
            if (this.spread) this.spread.value = a.spread > 12 ? "20" : "10";
          }
          if (a.up !== null && a.up > 1 && this.up) this.up.value = String(Math.round(a.up));
        }, { class: "act" }));
    }, (why) => this.attitude?.replaceChildren(why));
  }

  entry() {
    const at = this.stand();
    if (!at) {
      say("Say first where you stood: press I stand here, or choose a point on the map.", true);
      return null;
    }
    const [lat, lon] = this.app.map.at(at), up = this.up?.value.trim(), event = this.event?.value;
    return {
      from: { lat: +lat.toFixed(7), lon: +lon.toFixed(7) }, bearing_deg: Number(this.bearing?.value), north: this.north?.value, bearing_sd_deg: Number(this.spread?.value),
      ...event === "now" ? { timed: true } : { event }, ...up ? { elevation_deg: Number(up), elevation_sd_deg: 5 } : {},
    };
  }

  log() {
    const e = this.entry();
    if (!e) return;
    if (this.amending) this.app.outbox.say("amend", { of: this.amending, ...e });
    else this.app.outbox.say("bearing", e);
    say(this.amending ? "Amended." : "Logged.");
    this.amending = "";
    this.map.clearLayers();
    this.result.replaceChildren();
    this.app.changed();
  }

  async preview() {
    const e = this.entry();
    if (e) await this.judge({ key: "preview-0000", at: new Date().toISOString(), kind: "bearing", ...e });
  }

  /** @param {any} [entry] one that is being thought of */
  async judge(entry) {
    this.result.replaceChildren(el("p", {}, "Working it out."));
    try {
      const p = this.judged = await ask("POST", "sightings/preview", { now: new Date().toISOString(), ...entry ? { entry } : {} });
      this.map.clearLayers();
      drawShown(this.map, p.before.shapes, true);
      drawShown(this.map, p.after?.shapes, false);
      const near = p.after?.landing.areas?.find((/** @type {any} */ a) => a.probability === 0.9);
      const odd = p.sightings.filter((/** @type {any} */ s) => s.disagrees);
      this.result.replaceChildren(el("p", { class: p.contradiction ? "fault" : "" }, p.contradiction || `Dashed: before the sightings. Green: with them, nine of ten in ${near ? (near.area_m2 / 10000).toFixed(1) + " ha" : "this ground"}.`),
        ...odd.map((/** @type {any} */ s) => el("p", { class: "caution" }, `${s.id ? (s.by || "somebody") + "'s" : "This"} sighting (${s.what}) disagrees with the others${s.mistake ? `: ${Math.round(100 * s.mistake)} % likely a mistake` : ""}.`)));
      this.show();
    } catch (err) {
      this.result.replaceChildren(el("p", { class: "fault", role: "alert" }, /** @type {Error} */ (err).message));
    }
  }

  show() {
    const at = this.stand(), p = this.app.place();
    this.from?.replaceChildren(this.point && at ? `From ${Math.round(Math.hypot(...at))} m off the pad, as set on the map.` : at && p ? `From where you stand, ±${Math.round(p.acc)} m.` : "From where? No position yet.");
    if (this.title) this.title.textContent = this.amending ? "Amend what was seen" : "I saw it";
    if (this.save) this.save.textContent = this.amending ? "Amend it" : "Log it";
    const all = this.app.said(["bearing", "height", "nothing", "looked"]);
    this.list.replaceChildren(el("h3", {}, all.length ? "What was seen" : "Nothing was seen yet"),
      all.length ? button("Which disagrees?", () => this.judge()) : "", el("ul", { class: "log" }, ...all.slice().reverse().map((e) => this.row(e))));
  }

  /** @param {any} e */
  row(e) {
    const odd = this.judged?.sightings.some((/** @type {any} */ s) => s.id && s.id === e.id && s.disagrees);
    const li = this.app.line(e);
    if (odd) li.append(el("b", { class: "odd" }, "disagrees"));
    if (e.kind === "bearing" && e.key) li.append(button("Amend", () => this.amend(e), { class: "plain", "aria-label": "Amend " + e.says }));
    return li;
  }

  /** @param {any} e */
  amend(e) {
    const b = e.body || {}, f = b.from;
    this.amending = e.key;
    if (f) this.point = this.app.map.frame.toXY(f.lat, f.lon);
    if (this.north) this.north.value = "true";
    if (typeof b.bearing_deg === "number") this.draw(b.bearing_deg);
    if (b.event && this.event && events.some(([v]) => v === b.event)) this.event.value = b.event;
    if (typeof b.elevation_deg === "number" && this.up) this.up.value = String(b.elevation_deg);
    this.line.stand(this.stand());
    this.show();
    this.title?.scrollIntoView();
  }
}

