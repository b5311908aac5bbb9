// What somebody saw, from where, on which bearing, how high, or that there was
// nothing; what it does to the map; and which sighting disagrees.
import { ask } from "../api.js";
import { bounce, button, el, say } from "../dom.js";
import { BearingForm } from "./bearingform.js";
import { L } from "./chartmap.js";
import { Direction } from "./direction.js";
import { HeightForm } from "./heightform.js";
import { LookedForm } from "./lookedform.js";
import { NothingForm } from "./nothingform.js";
import { drawShown } from "./sight.js";
import { Stand } from "./stand.js";
import { whyNot } from "./words.js";

/** @typedef {import("./crewapp.js").App} App */
/** @typedef {BearingForm | HeightForm | NothingForm | LookedForm} Form */

export class SawPanel {
  /** @param {HTMLElement} box @param {App} app */
  constructor(box, app) {
    this.app = app;
    this.open = false;
    this.map = L.layerGroup().addTo(app.map.map);
    this.ground = L.layerGroup().addTo(app.map.map);
    this.stand = new Stand(app);
    this.direction = new Direction(app, this.stand);
    const draw = () => {
      this.loggedAt = -bounce; // it is another entry now
      this.draw();
    };
    this.bearing = new BearingForm(this.stand, this.direction, draw);
    this.height = new HeightForm(() => this.byAngle(), draw);
    this.nothing = new NothingForm(app, this.stand, this.direction, () => this.lay());
    /** @type {Form[]} */
    this.forms = [this.bearing, this.height, this.nothing, new LookedForm(draw)];
    /** @type {Form} */
    this.form = this.bearing;
    /** @type {{key: string, text: string} | null} what was logged last */
    this.last = null;
    this.loggedAt = -bounce;
    this.kinds = this.forms.map((f) => button(f.name, () => this.take(f)));
    this.title = el("h2", {}, "What did you see?");
    this.fields = el("div", {});
    this.means = el("p", { class: "soft means" });
    this.save = button("Log it", () => this.log(), { class: "act" });
    this.result = el("div", { role: "status" });
    this.list = el("div", {});
    this.amending = "";
    this.drawn = ""; // what the list shows
    /** @type {any} */
    this.judged = null;
    const form = el("div", {}, this.title, el("div", { class: "kinds", role: "group", "aria-label": "What you saw" }, ...this.kinds), this.stand.box, this.fields, this.means,
      el("div", { class: "thumbs stays" }, this.save, button("What it changes", () => this.preview())));
    box.append(form, this.result, this.list);
    app.map.map.on("click", (/** @type {any} */ e) => this.tapped(app.map.frame.toXY(e.latlng.lat, e.latlng.lng)));
    this.stand.addEventListener("change", draw);
    this.direction.addEventListener("turn", draw);
    this.lay();
    this.show();
  }

  /** Another kind of thing was seen. @param {Form} form */
  take(form) {
    if (form === this.form) return;
    this.form = form;
    this.amending = "";
    this.clear();
    this.lay();
    this.show();
  }

  /** An angle is of a direction: the highest point, on a bearing. */
  byAngle() {
    this.bearing.event.value = "apogee";
    this.take(this.bearing);
    this.bearing.up.focus();
  }

  /** Puts the fields of what was seen under the thumb. */
  lay() {
    this.kinds.forEach((b) => b.setAttribute("aria-pressed", String(b.textContent === this.form.name)));
    this.stand.box.hidden = !this.form.stands;
    const fields = this.form.fields();
    if (fields.some((e) => !this.fields.contains(e)) || this.fields.childElementCount !== fields.length) this.fields.replaceChildren(...fields);
    this.direction.show(this.open && this.form.stands);
    this.loggedAt = -bounce;
    this.draw();
  }

  /** What it means, in words and on the map. */
  draw() {
    const words = this.form.words();
    this.means.textContent = words ? "Taken as: " + words + "." : "";
    this.ground.clearLayers();
    if (!this.open) return;
    for (const e of this.app.said(["nothing"])) if (e.body?.geometry && e.key !== this.amending) L.geoJSON(e.body.geometry, { interactive: false, style: { className: "watched logged" } }).addTo(this.ground);
    this.form.draw(this.ground);
  }

  /** @param {boolean} open the panel is looked at */
  turnOn(open) {
    this.open = open;
    if (!open) this.map.clearLayers();
    this.direction.show(open && this.form.stands);
    this.draw();
    this.show();
  }

  /** @param {import("./frame.js").XY} xy */
  tapped(xy) {
    if (!this.open) return;
    if (this.stand.picking) this.stand.pick(xy);
    else if (this.form === this.nothing) this.nothing.tapped(xy);
  }

  clear() {
    this.map.clearLayers();
    this.result.replaceChildren();
  }

  /** Whether what was logged last is still there. */
  there() { return !!this.last && this.app.said([this.form.kind]).some((x) => x.key === this.last?.key); }

  log() {
    const again = this.amending, e = performance.now() - this.loggedAt < bounce && this.there() ? null : this.form.entry(!!again);
    if (!e) return;
    const text = JSON.stringify([this.form.kind, e]);
    if (!again && text === this.last?.text && this.there()) {
      say("That is logged already, below. Change something first, or take it back.", true);
      return;
    }
    this.last = { text, key: again || this.app.outbox.say(this.form.kind, e) };
    if (again) this.app.outbox.say("amend", { of: again, ...e });
    this.loggedAt = performance.now();
    navigator.vibrate?.(60);
    say(this.amending ? "Amended." : "Logged.");
    this.amending = "";
    if (this.form === this.nothing) this.nothing.corners = [];
    this.clear();
    this.draw();
    this.app.changed();
  }

  async preview() {
    const e = this.form.entry(false);
    if (e) await this.judge({ key: "preview-0000", at: new Date().toISOString(), kind: this.form.kind, ...e });
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
      this.result.replaceChildren(p.caution ? el("p", { class: "caution" }, `Look again: ${p.caution}.`) : "",
        el("p", { class: p.contradiction ? "fault" : "" }, p.contradiction || `Dashed: before the sightings. Green: with them, nine of ten in ${near ? (near.area_m2 / 10000).toFixed(1) + " ha" : "this ground"}.`),
        ...odd.map((/** @type {any} */ s) => el("p", { class: "caution" }, `${s.id ? (s.by || "somebody") + "'s" : "This"} sighting (${s.what}) disagrees with the others${s.mistake ? `: ${Math.round(100 * s.mistake)} % likely a mistake` : ""}.`)));
      this.show();
    } catch (err) {
      this.result.replaceChildren(el("p", { class: "fault", role: "alert" }, whyNot(err)));
    }
  }

  show() {
    this.stand.show();
    this.title.textContent = this.amending ? "Amend what was seen" : "What did you see?";
    this.save.textContent = this.amending ? "Amend it" : "Log it";
    const all = this.app.said(["bearing", "height", "nothing", "looked"]), odd = this.judged?.sightings.filter((/** @type {any} */ s) => s.id && s.disagrees).map((/** @type {any} */ s) => s.id);
    const drawn = JSON.stringify([all.map((e) => [e.key, e.id, e.revision, e.waiting, e.says]), odd]);
    if (this.drawn === drawn) return; // the list stays under the thumb
    this.drawn = drawn;
    this.list.replaceChildren(el("h3", {}, all.length ? "What was seen" : "Nothing was seen yet"),
      all.length ? button("Which disagrees?", () => this.judge()) : "", el("ul", { class: "log" }, ...all.slice().reverse().map((e) => this.row(e, odd?.includes(e.id)))));
    this.draw();
  }

  /** @param {any} e @param {boolean} odd */
  row(e, odd) {
    const li = this.app.line(e), form = this.forms.find((f) => f.kind === e.kind);
    if (odd) li.append(el("b", { class: "odd" }, "disagrees"));
    if (form && e.key) li.append(button("Amend", () => this.amend(form, e), { class: "plain", "aria-label": "Amend " + e.says }));
    return li;
  }

  /** @param {Form} form @param {any} e */
  amend(form, e) {
    this.take(form);
    this.amending = e.key;
    form.amend(e.body || {}, this.stand);
    this.lay();
    this.show();
    this.title.scrollIntoView();
  }
}
