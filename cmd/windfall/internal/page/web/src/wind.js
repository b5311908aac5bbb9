// The wind: levels by hand, a file, or a forecast with what was measured at the
// pad; its profile and hodograph.
import { ask } from "./api.js";
import { hodograph, profile, windWords } from "./charts.js";
import { button, el, newId, say } from "./dom.js";
import { field, showFault } from "./form.js";

/** @typedef {import("./types").Field} Field */
/** @typedef {import("./draft.js").Draft} Draft */

const level = { height: "Height above the pad", from: "From", speed: "Speed", gust: "Gust" };
const mostBytes = 32 << 20;

export class Wind {
  /**
   * @param {Draft} draft @param {import("./types").Group[]} groups
   * @param {HTMLElement} panel @param {() => Promise<void>} refresh reads the folder again
   */
  constructor(draft, groups, panel, refresh) {
    this.draft = draft;
    this.refresh = refresh;
    this.fields = groups.find((g) => g.wind)?.fields || [];
    this.measured = groups.find((g) => g.measured)?.fields || [];
    this.form = el("div", { class: "wind-form" });
    this.pictures = el("div", { class: "pictures" });
    panel.append(this.form, this.pictures);
    draft.addEventListener("change", (e) => {
      const by = /** @type {CustomEvent} */ (e).detail;
      if (!(by && this.form.querySelector(`[data-key="${CSS.escape(by)}"]`))) this.build();
    });
    this.build();
  }

  /** Where the one wind stands, and of which kind it is. */
  where() {
    const v = this.draft.get("wind");
    if (v === undefined) return { at: "wind", kind: "none" };
    if (typeof v === "string") return { at: "wind", kind: "file", short: true };
    if (Array.isArray(v)) {
      const first = v[0];
      const source = typeof first === "string" || (typeof first === "object" && !Array.isArray(first) && ["levels", "file", "forecast"].some((k) => k in first));
      return source ? { at: "wind", kind: "several" } : { at: "wind", kind: "levels", short: true };
    }
    return { at: "wind", kind: "forecast" in v ? "forecast" : "file" in v ? "file" : "levels" };
  }

  build() {
    const w = this.where(), id = newId();
    const kinds = /** @type {const} */ ([["levels", "Levels by hand"], ["file", "A file: forecast, sounding or report"], ["several", "Several winds"]]);
    const now = w.kind === "forecast" ? "file" : w.kind;
    this.form.replaceChildren(el("div", { class: "field" }, el("label", { for: id }, "How the wind is known"),
      el("select", { id, onchange: (/** @type {any} */ e) => this.change(e.target.value) },
        ...kinds.map(([k, t]) => el("option", { value: k, selected: k === now }, t)))));
    if (w.kind === "several") this.several();
    else if (w.kind === "levels" || w.kind === "none") {
      this.levels(w.short || w.kind === "none" ? "wind" : "wind.levels");
      this.extras(w);
      if (this.draft.get("wind.measured") !== undefined) this.measurements(w);
    } else {
      this.file(w);
      this.extras(w);
      this.measurements(w);
    }
    this.form.append(this.loader());
  }

  /** @param {string} kind */
  change(kind) {
    if (kind === "levels") this.draft.set("wind", [{ height: "2 m", from: "240 deg", speed: "4 m/s" }]);
    else if (kind === "file") {
      const files = this.files();
      if (files.length === 0) {
        say("There is no wind file beside the flight yet; load one below.", true);
        this.build();
      } else this.draft.set("wind", files[0]);
    } else this.draft.set("wind", [{ file: this.files()[0] || "forecast.json", weight: "0.5" }, { levels: [{ height: "2 m", from: "240 deg", speed: "4 m/s" }], weight: "0.5" }]);
  }

  /** Files beside the flight that may be a wind. */
  files() { return this.draft.saved.files.filter((f) => /\.(json|csv|txt)$/i.test(f)); }

  /** @param {string} at */
  levels(at) {
    const v = this.draft.get(at), n = Array.isArray(v) ? v.length : 0;
    for (let i = 0; i < n; i++) {
      const key = `${at}[${i}]`;
      this.form.append(el("fieldset", { class: "level" }, el("legend", {}, "Level " + (i + 1)),
        ...Object.entries(level).filter(([k]) => k !== "gust" || n === 1 || this.draft.text(key + ".gust"))
          .map(([k, label]) => field(this.draft, key + "." + k, { key: k, label, kind: k === "height" ? "length" : k === "from" ? "direction" : "speed" })),
        button("Take out level " + (i + 1), () => this.draft.remove(key))));
    }
    this.form.append(button("Add a level", () => {
      const last = this.draft.text(`${at}[${n - 1}].height`), m = /^([\d.]+)(.*)$/.exec(last);
      this.draft.set(`${at}[${n}]`, { height: m ? Math.round(Number(m[1]) * 2) + m[2] : "2 m", from: this.draft.text(`${at}[${n - 1}].from`) || "240 deg", speed: this.draft.text(`${at}[${n - 1}].speed`) || "4 m/s" });
    }));
  }

  /** What goes with a wind as a whole. @param {{kind: string, short?: boolean}} w */
  extras(w) {
    const more = el("details", { class: "group" }, el("summary", {}, "More about this wind"));
    const some = w.kind === "levels" || w.kind === "none" ? ["wind.at", "wind.veer", "wind.roughness"] : ["wind.at", "wind.made", "wind.roughness"];
    for (const f of this.fields.filter((f) => some.includes(f.key))) {
      if (w.short) {
        more.append(button("Give " + f.label.toLowerCase(), () => {
          this.long();
          this.draft.set(f.key, f.example || "");
        }));
      } else more.append(field(this.draft, f.key, f));
    }
    this.form.append(more);
  }

  /** Turns the short form of a wind into the long one. */
  long() {
    const v = this.draft.get("wind");
    if (typeof v === "string") this.draft.set("wind", { file: v });
    else if (Array.isArray(v)) this.draft.set("wind", { levels: v });
  }

  /** @param {{kind: string, short?: boolean}} w */
  file(w) {
    const key = w.short ? "wind" : w.kind === "forecast" ? "wind.forecast" : "wind.file", id = newId();
    const now = this.draft.text(key), files = [...new Set([now, ...this.files()])].filter(Boolean);
    this.form.append(el("div", { class: "field", "data-key": key }, el("label", { for: id }, "Wind file"),
      el("select", { id, onchange: (/** @type {any} */ e) => this.draft.set(key, e.target.value) }, ...files.map((f) => el("option", { value: f, selected: f === now }, f))),
      el("p", { class: "fault", role: "alert", hidden: true })));
  }

  /** @param {{kind: string, short?: boolean}} w */
  measurements(w) {
    const v = w.short ? undefined : this.draft.get("wind.measured");
    const n = Array.isArray(v) ? v.length : v ? 1 : 0;
    for (let i = 0; i < n; i++) {
      const key = Array.isArray(v) ? `wind.measured[${i}]` : "wind.measured", what = this.draft.get(key);
      const box = el("fieldset", { class: "level", "data-key": key }, el("legend", {}, "Measured at the pad" + (n > 1 ? " " + (i + 1) : "")));
      if (typeof what === "string") box.append(field(this.draft, key, { key, label: "Report file", kind: "file" }));
      else box.append(...this.measured.map((f) => field(this.draft, key + "." + f.key, f)));
      box.append(button("Take out this reading", () => this.draft.remove(key)));
      this.form.append(box);
    }
    this.form.append(button("Add what was measured at the pad", () => {
      const reading = { height: "2 m", from: "240 deg", speed: "4 m/s", at: this.draft.text("when") };
      if (!reading.at) delete /** @type {any} */ (reading).at;
      this.long();
      const before = this.draft.get("wind.measured");
      this.draft.set("wind.measured", before === undefined ? reading : [...(Array.isArray(before) ? before : [before]), reading]);
    }));
  }

  several() {
    const v = this.draft.get("wind");
    if (!Array.isArray(v)) return;
    v.forEach((one, i) => {
      const key = `wind[${i}]`, box = el("fieldset", { class: "level" }, el("legend", {}, "Wind " + (i + 1)));
      if (typeof one === "string") box.append(field(this.draft, key, { key, label: "Wind file", kind: "file" }));
      else {
        for (const [k, label] of /** @type {const} */ ([["file", "Wind file"], ["forecast", "Forecast"]])) {
          if (at(one, k) !== undefined) box.append(field(this.draft, `${key}.${k}`, { key: k, label, kind: "file" }));
        }
        const ls = at(one, "levels");
        if (Array.isArray(ls)) {
          ls.forEach((_, j) => box.append(...Object.entries(level).map(([k, label]) => field(this.draft, `${key}.levels[${j}].${k}`, { key: k, label: `${label}, level ${j + 1}`, kind: k === "height" ? "length" : k === "from" ? "direction" : "speed" }))));
        }
        box.append(field(this.draft, key + ".weight", { key: "weight", label: "Weight", kind: "number", example: "0.5" }));
      }
      box.append(button("Take out wind " + (i + 1), () => this.draft.remove(key)));
      this.form.append(box);
    });
    this.form.append(button("Add a wind", () => this.draft.set(`wind[${v.length}]`, { levels: [{ height: "2 m", from: "240 deg", speed: "4 m/s" }], weight: "0.5" })));
  }

  /** Loads a wind file into the flight's folder. */
  loader() {
    const id = newId(), fault = el("p", { class: "fault", role: "alert", hidden: true });
    const pick = el("input", { id, type: "file", accept: ".json,.csv,.txt", onchange: async () => {
      const f = pick.files?.[0];
      fault.hidden = true;
      if (!f) return;
      try {
        if (f.size > mostBytes) throw new Error(`${f.name} is ${Math.round(f.size / 1e6)} MB; a file may have ${mostBytes >> 20} MB. Choose one hour or one place of it`);
        await ask("PUT", "files/" + encodeURIComponent(f.name), f);
        await this.refresh();
        this.draft.set("wind", f.name);
        say(f.name + " is loaded");
      } catch (e) {
        fault.textContent = /** @type {Error} */ (e).message;
        fault.hidden = false;
      }
    } });
    return el("div", { class: "field" }, el("label", { for: id }, "Load a wind file"), pick,
      el("p", { class: "help" }, "A forecast, a sounding, levels or an airport report; it is kept beside the flight."), fault);
  }

  /** @param {import("./types").WindCurve[]} curves */
  show(curves) {
    if (!curves.length || !curves[0].points.length) return;
    this.pictures.replaceChildren(el("figure", {}, profile(curves), el("figcaption", {}, "Speed by height")),
      el("figure", {}, hodograph(curves), el("figcaption", {}, "Hodograph: the way it carries, m/s")), windWords(curves));
  }

  /** @param {import("./types").Fault | undefined} fault */
  fault(fault) { return showFault(this.form, fault); }
}

/** @param {any} v @param {string} k */
function at(v, k) { return v && typeof v === "object" ? v[k] : undefined; }
