// What if: sliders, and what they do to the landing, at once.
import { aborted, ask, Refusal } from "./api.js";
import { bars } from "./charts.js";
import { button, el, newId, say } from "./dom.js";
import { bearing, hectares, join, percent, split, unitsOf } from "./units.js";

/** @typedef {import("./draft.js").Draft} Draft */
/** @typedef {import("./types").Try} Try */
/** @typedef {import("./types").Fault} Fault */

export const quickRuns = 2000;

/**
 * Asks for the landing of the draft: quickly at every change, in full when the
 * hand rests. One quick answer is awaited at a time, so that the map follows a
 * moving hand; the full one is cancelled by the next move.
 */
export class Flyer {
  /** @param {Draft} draft @param {(t: Try, full: boolean) => void} show @param {(f: Fault | undefined) => void} fault */
  constructor(draft, show, fault) {
    this.draft = draft;
    this.show = show;
    this.fault = fault;
    this.busy = false;
    this.stale = false;
    /** @type {AbortController | null} */
    this.sharpening = null;
    this.rest = 0;
    /** @type {Try | null} */
    this.latest = null;
    draft.addEventListener("change", () => this.fly());
  }

  async fly() {
    this.sharpening?.abort();
    clearTimeout(this.rest);
    this.stale = true;
    if (this.busy) return;
    this.busy = true;
    let ok = false;
    while (this.stale) {
      this.stale = false;
      ok = await this.ask(quickRuns);
    }
    this.busy = false;
    if (ok) this.rest = window.setTimeout(() => this.ask(0), 400);
  }

  /** @param {number} runs 0: as many as predict flies @returns {Promise<boolean>} */
  async ask(runs) {
    const stop = new AbortController();
    if (runs === 0) this.sharpening = stop;
    try {
      this.latest = await ask("POST", "tries", { ...this.draft.body(), runs }, stop.signal);
      this.fault(undefined);
      this.show(/** @type {Try} */ (this.latest), runs === 0);
      return true;
    } catch (e) {
      if (aborted(e)) return false;
      this.fault((e instanceof Refusal && e.fault) || { message: /** @type {Error} */ (e).message });
      return false;
    }
  }
}

/** @typedef {{key: string, label: string, kind: string, min: number, max: number, step: number, fall?: string}} Slider */

export class WhatIf {
  /**
   * @param {Draft} draft @param {HTMLElement} panel
   * @param {{fly: Flyer}} with_
   */
  constructor(draft, panel, with_) {
    this.draft = draft;
    this.flyer = with_.fly;
    this.result = el("div", { class: "result" });
    this.sliders = el("div", { class: "sliders" });
    this.hours = el("div", { class: "hours" });
    this.tries = el("div", { class: "tries" });
    this.more = el("div", {});
    /** @type {{label: string, body: any}[]} */
    this.kept = [];
    panel.append(this.result, el("h3", {}, "Try"), this.sliders, this.hours, el("h3", {}, "Compare"), this.tries, this.more);
    draft.addEventListener("change", (e) => this.renew(/** @type {CustomEvent} */ (e).detail));
    this.tryList();
  }

  /** @param {string} [by] */
  renew(by) {
    if (by && this.sliders.querySelector(`[data-key="${CSS.escape(by)}"]`)) return;
    if (this.flyer.latest) this.makeSliders(this.flyer.latest);
  }

  /** @param {Try} t @param {boolean} full */
  show(t, full) {
    const first = this.sliders.childElementCount === 0 || t.hours.join() !== this.lastHours;
    this.lastHours = t.hours.join();
    if (first) this.makeSliders(t);
    const r = t.result, field = r.places.find((p) => p.kind === "field");
    const worst = r.outcomes.find((o) => o.name === "no recovery");
    this.result.replaceChildren(
      field ? el("p", { class: "big" }, el("b", {}, percent(field.probability)), ` on our field${field.se ? " ± " + (100 * field.se).toFixed(1) : ""}`)
        : el("p", { class: "big" }, "Draw your field to see the chance of coming down on it."),
      el("p", {}, `Middle of the landings ${Math.round(Math.hypot(r.landing.mean.east_m, r.landing.mean.north_m))} m from the pad on bearing `
        + bearing((Math.atan2(r.landing.mean.east_m, r.landing.mean.north_m) * 180) / Math.PI) + `; 90 % in ${hectares(r.landing.areas.find((a) => a.probability === 0.9)?.area_m2 || 0)}.`),
      el("dl", { class: "facts" },
        ...fact("Height", Math.round(r.nominal.apogee_m) + " m"), ...fact("Down after", Math.round(r.nominal.landing_s) + " s"),
        ...fact("Touches down at", r.nominal.landing_mps.toFixed(1) + " m/s over the ground"),
        ...t.sinks.flatMap((s) => fact(t.sinks.length > 1 ? "Sinks under " + s.name : "Sinks at", s.mps.toFixed(1) + " m/s")),
        ...fact("Off the rail at", r.nominal.rail_exit_mps.toFixed(1) + " m/s")),
      places(r.places),
      worst && worst.probability > 0 ? el("p", { class: "caution" }, `In ${percent(worst.probability, worst.se)} of flights nothing opens: it comes down fast. Keep people clear of all of the map.`) : "",
      el("p", { class: "soft" }, `${r.runs} flights${full ? "" : ", being sharpened"}.`));
    this.more.replaceChildren(
      r.sensitivity?.length ? el("details", { class: "group", open: true }, el("summary", {}, "What spreads the landings"), bars(r.sensitivity)) : "",
      list("Cautions", [...t.warnings.filter((w) => !r.cautions.includes(w)), ...r.cautions], "caution"), list("Taken for granted", r.assumptions, ""),
      el("p", { class: "soft" }, "Chances, never permission: your safety code, the land owner, the air-space rules and the range safety officer decide whether to fly."));
  }

  /** @param {Try} t @returns {Slider[]} */
  list(t) {
    const d = this.draft;
    /** @type {Slider[]} */
    const out = [];
    const code = /-(\d+(\.\d+)?)$/.exec(d.text("motor.designation"));
    if (d.text("motor.delay") !== "none" && (d.text("motor.delay") || code)) out.push({ key: "motor.delay", label: "Delay", kind: "time", min: 2, max: 18, step: 0.5, fall: code ? code[1] + " s" : "" });
    out.push({ key: "rail.lean", label: "Lean of the rail", kind: "angle", min: 0, max: 30, step: 0.5, fall: t.rail.lean_deg + " deg" },
      { key: "rail.toward", label: "Leans toward", kind: "direction", min: 0, max: 359, step: 1, fall: Math.round(t.rail.toward_deg) + " deg" });
    const devices = d.get("recovery");
    (Array.isArray(devices) ? devices : []).forEach((v, i) => {
      for (const [k, name] of /** @type {const} */ ([["diameter", "diameter"], ["width", "width"], ["length", "length"], ["descent_rate", "sink rate"]])) {
        const key = `recovery[${i}].${k}`;
        if (d.text(key)) out.push(around(key, `${d.text(`recovery[${i}].device`)} ${name}`.replace(/^./, (c) => c.toUpperCase()), k === "descent_rate" ? "speed" : "length", d.text(key)));
      }
    });
    if (d.text("vehicle.mass")) out.push(around("vehicle.mass", "Mass on the rail", "mass", d.text("vehicle.mass")));
    return out;
  }

  /** @param {Try} t */
  makeSliders(t) {
    const devices = this.draft.get("recovery");
    const kinds = (Array.isArray(devices) ? devices : []).map((_, i) => this.deviceKind(`recovery[${i}]`));
    this.sliders.replaceChildren(this.hour(t.hours) || "", ...kinds, ...this.list(t).map((s) => this.slider(s)));
    this.hours.replaceChildren(t.hours.length > 1 ? button("Find the best hour", () => this.bestHour(), { class: "act" }) : el("p", { class: "soft" }, "With a forecast as the wind, hours can be tried and compared."));
  }

  /** @param {Slider} s */
  slider(s) {
    const id = newId(), { number, unit } = split(this.draft.text(s.key) || s.fall || "0");
    const out = el("output", { for: id });
    const box = el("input", { id, type: "range", min: s.min, max: s.max, step: s.step, value: number });
    const words = () => {
      out.textContent = s.kind === "direction" ? bearing(Number(box.value)) : join(box.value, unit);
      box.setAttribute("aria-valuetext", s.kind === "direction" ? box.value + " degrees" : join(box.value, unit));
    };
    box.addEventListener("input", () => {
      words();
      if (s.key === "rail.lean" && Number(box.value) > 0 && !this.draft.text("rail.toward")) this.draft.set("rail.toward", "0 deg");
      this.draft.set(s.key, join(box.value, unit || unitsOf(s.kind)[0] || "deg"), s.key);
    });
    words();
    return el("div", { class: "slider", "data-key": s.key }, el("label", { for: id }, s.label), box, out);
  }

  /** The hour of the forecast. @param {string[]} hours */
  hour(hours) {
    if (hours.length < 2) return null;
    const id = newId(), when = Date.parse(this.draft.text("when").replace(" ", "T"));
    let k = 0;
    hours.forEach((h, i) => { if (Math.abs(Date.parse(h) - when) < Math.abs(Date.parse(hours[k]) - when)) k = i; });
    const out = el("output", { for: id });
    const box = el("input", { id, type: "range", min: 0, max: hours.length - 1, step: 1, value: k });
    const words = () => {
      out.textContent = clock(hours[Number(box.value)], this.draft.text("when"));
      box.setAttribute("aria-valuetext", out.textContent);
    };
    box.addEventListener("input", () => {
      words();
      this.draft.set("when", moment(hours[Number(box.value)], this.draft.text("when")), "when");
    });
    words();
    out.textContent = clock(this.draft.text("when") || hours[k], this.draft.text("when"));
    return el("div", { class: "slider", "data-key": "when" }, el("label", { for: id }, "Hour"), box, out);
  }

  /** @param {string} key */
  deviceKind(key) {
    const id = newId(), now = this.draft.text(key + ".device");
    return el("div", { class: "slider" }, el("label", { for: id }, "Device"),
      el("select", { id, onchange: (/** @type {any} */ e) => this.otherDevice(key, e.target.value) }, ...["parachute", "streamer", "drogue", "main"].map((k) => el("option", { value: k, selected: k === now }, k))));
  }

  /** Another device in place of one, with a size of its kind. @param {string} key @param {string} kind */
  otherDevice(key, kind) {
    const was = this.draft.get(key);
    if (!was || typeof was !== "object" || Array.isArray(was)) return;
    const { diameter, width, length, drag, drag_area, descent_rate, ...rest } = was;
    /** @type {Record<string, any>} */
    const size = kind === "streamer" ? { width: width || "180 mm", length: length || "3 m", drag: "0.15" } : { diameter: diameter || "60 cm", drag: "0.8" };
    if ((kind === "streamer") === (was.device === "streamer")) this.draft.set(key + ".device", kind);
    else this.draft.set(key, { ...rest, device: kind, ...size });
  }

  async bestHour() {
    say("Comparing the hours of the forecast");
    this.hours.replaceChildren(el("p", { role: "status" }, "Comparing the hours…"));
    try {
      const a = await ask("POST", "compare", { ...this.draft.body(), hours: "all", runs: quickRuns });
      const rows = /** @type {import("./types").Row[]} */ (a.rows);
      this.hours.replaceChildren(el("p", {}, `Best first${a.verdict ? ": " + a.verdict : ""}`), el("ol", { class: "rows" }, ...rows.slice(0, 10).map((r) => this.hourRow(r))),
        button("Find the best hour again", () => this.bestHour()));
      say("The best hour is " + clock(rows[0].hour || "", this.draft.text("when")));
    } catch (e) {
      this.hours.replaceChildren(el("p", { class: "fault", role: "alert" }, /** @type {Error} */ (e).message), button("Find the best hour", () => this.bestHour()));
    }
  }

  /** @param {import("./types").Row} r */
  hourRow(r) {
    const text = clock(r.hour || "", this.draft.text("when"));
    return el("li", {}, el("b", {}, text), " ", r.probability === null ? "" : percent(r.probability, r.se) + " on the field", r.equal && !r.best ? el("span", { class: "soft" }, " as good within the error") : "",
      button("Choose " + text, () => {
        this.draft.set("when", moment(r.hour || "", this.draft.text("when")));
        say("Ignition is set to " + text);
      }));
  }

  tryList() {
    this.tries.replaceChildren(
      el("div", { class: "chips" }, button("Keep this try", () => this.keep()),
        this.kept.length > 1 ? button("Compare what was tried", () => this.compare(), { class: "act" }) : ""),
      this.kept.length ? el("ul", { class: "rows" }, ...this.kept.map((k) => el("li", {}, k.label))) : el("p", { class: "soft" }, "Keep two or more tries to set them side by side, with the same gusts for each."));
  }

  keep() {
    const last = new Map(this.draft.state.ops.map((o) => [o.key, o]));
    const label = [...last.values()].map(words).join(", ") || (this.draft.dirty ? "other drawings" : "as saved");
    if (this.kept.some((k) => k.label === label)) {
      say("This try is kept already");
      return;
    }
    this.kept = [...this.kept.slice(-11), { label, body: this.draft.body() }];
    this.tryList();
    say("Kept: " + label);
  }

  async compare() {
    try {
      const a = await ask("POST", "compare", { base: this.draft.saved.hash, edits: [], tries: this.kept.map((k) => ({ label: k.label, ...k.body })), runs: quickRuns * 2 });
      this.tries.append(el("p", {}, "Best first" + (a.verdict ? ": " + a.verdict : "")), el("ol", { class: "rows" }, ...a.rows.map((/** @type {any} */ r) => el("li", {},
        el("b", {}, r.label), " ", r.probability === null ? `middle ${Math.round(r.distance_m)} m from the pad` : percent(r.probability, r.se) + " on the field", r.equal && !r.best ? el("span", { class: "soft" }, " as good within the error") : ""))));
    } catch (e) {
      say(/** @type {Error} */ (e).message, true);
    }
  }
}

/** What a change says, in a few words. @param {{key: string, value?: import("./types").Value}} op */
function words(op) {
  const key = op.key.replace(/^recovery\[(\d+)\]/, (_, i) => "device " + (Number(i) + 1)).replace(/^\w+\./, "").replace(/[._]/g, " ");
  if (op.value === undefined) return "no " + key;
  if (typeof op.value === "string") return key + " " + op.value;
  const kind = /** @type {any} */ (op.value).device;
  return kind ? key + " " + kind : key + " changed";
}

/** @param {string} key @param {string} label @param {string} kind @param {string} text @returns {Slider} */
function around(key, label, kind, text) {
  const v = Number(split(text).number) || 1, step = 10 ** Math.floor(Math.log10(v) - 1.5);
  const nice = (/** @type {number} */ x) => Number((Math.round(x / step) * step).toPrecision(6));
  return { key, label, kind, min: Math.max(step, nice(v * 0.4)), max: nice(v * 2), step: Number(step.toPrecision(1)), fall: text };
}

/** @param {string} name @param {string} text */
function fact(name, text) { return [el("dt", {}, name), el("dd", {}, text)]; }

/** @param {import("./types").Chance[]} places */
function places(places) {
  const rest = places.filter((p) => p.kind !== "field");
  if (!rest.length) return "";
  return el("table", {}, el("caption", {}, "Chances by place"), el("tbody", {}, ...rest.map((p) => el("tr", {}, el("th", { scope: "row" }, p.name), el("td", {}, p.probability ? percent(p.probability, p.se) : "in none of the runs")))));
}

/** @param {string} title @param {string[]} lines @param {string} kind */
function list(title, lines, kind) {
  return lines.length ? el("details", { class: "group", open: kind === "caution" }, el("summary", {}, title), el("ul", { class: kind }, ...lines.map((l) => el("li", {}, l)))) : "";
}

/** The offset from UTC of a time as text, minutes. @param {string} text */
function offset(text) {
  const m = /([+-])(\d\d):?(\d\d)$/.exec(text);
  return m ? (m[1] === "-" ? -1 : 1) * (Number(m[2]) * 60 + Number(m[3])) : 0;
}

/** An instant in the zone of another time. @param {string} t @param {string} like @returns {string} */
export function moment(t, like) {
  const o = offset(like), d = new Date(Date.parse(t.replace(" ", "T")) + o * 60000), two = (/** @type {number} */ n) => String(Math.abs(n)).padStart(2, "0");
  const zone = o === 0 ? "Z" : (o < 0 ? "-" : "+") + two(Math.trunc(o / 60)) + ":" + two(o % 60);
  return d.toISOString().slice(0, 19) + zone;
}

/** @param {string} t @param {string} like */
function clock(t, like) { return t ? moment(t, like).slice(5, 16).replace("T", " ") : ""; }
