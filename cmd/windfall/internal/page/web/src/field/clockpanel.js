// The flight clock: one large button for each thing seen or heard.
import { ask } from "../api.js";
import { button, el, once } from "../dom.js";
import { fold } from "./shell.js";
import { bearingWord, compassWord, metresWord, whyNot } from "./words.js";

/** @typedef {import("./crewapp.js").App} App */

/** @param {number} ms since ignition */
function sinceWord(ms) {
  const s = ms / 1000, m = Math.floor(Math.abs(s) / 60);
  return (s < 0 ? "T−" : "T+") + (m ? m + ":" + String(Math.floor(Math.abs(s) % 60)).padStart(2, "0") : Math.abs(s).toFixed(0) + " s");
}

export class ClockPanel {
  /** @param {HTMLElement} box @param {App} app */
  constructor(box, app) {
    this.app = app;
    this.drawn = "";
    this.head = el("h2", { class: "clock" });
    this.undo = el("p", { class: "undo", role: "status", hidden: true });
    this.grid = el("div", { class: "presses" });
    this.list = el("div", {});
    this.cards = el("div", {});
    box.append(this.head, this.undo, this.grid, this.list, fold("Where to look, and when", false, this.cards));
    box.querySelector("details")?.addEventListener("toggle", () => this.showCards());
    setInterval(() => { if (!document.hidden && !box.hidden) this.tick(); }, 1000);
    this.show();
  }

  tick() {
    const t0 = this.app.field.ignition;
    this.head.textContent = t0 === null ? "Before ignition" : sinceWord(this.app.field.now() - t0) + " after ignition";
  }

  show() {
    const { field } = this.app, buttons = field.doc?.buttons || [], t0 = field.ignition;
    this.tick();
    const key = JSON.stringify([buttons, t0 !== null]);
    if (this.drawn !== key) {
      this.drawn = key;
      this.grid.replaceChildren(...buttons.filter((b) => (b.event === "ignition") === (t0 === null)).map((b) => this.press(b)));
      if (t0 === null) this.grid.append(el("p", {}, "Press with the countdown. The other buttons come then."));
    }
    const seen = this.app.said(["ignition", "timing"]);
    this.list.replaceChildren(...(seen.length ? [el("h3", {}, "Pressed so far"), el("ul", { class: "log" }, ...seen.slice(-8).reverse().map((e) => this.app.line(e)))] : []));
  }

  /** @param {import("./crew").Button} b */
  press(b) {
    const late = b.late_s ? `, ${b.late_s} s taken off` : "";
    return el("button", { type: "button", class: b.event === "ignition" ? "act press wide" : "press", title: b.source, onclick: once(() => this.say(b)) },
      el("b", {}, b.label[0].toUpperCase() + b.label.slice(1)), el("span", {}, `±${b.spread_s} s${late}`));
  }

  /** @param {import("./crew").Button} b */
  say(b) {
    const { outbox, field } = this.app, at = Date.now(), t0 = field.ignition;
    navigator.vibrate?.(60);
    const place = this.app.place();
    const key = b.event === "ignition" ? outbox.say("ignition", {}, at)
      : outbox.say("timing", { event: b.event, ...b.heard ? { heard: true, ...place ? { from: place } : {} } : {} }, at);
    this.undo.hidden = false;
    this.undo.replaceChildren(`${b.label}${t0 === null ? "" : " at " + sinceWord(at + field.off - t0)}. `, button("Take it back", () => {
      this.undo.hidden = true;
      this.app.takeBack(key);
    }, { class: "plain" }));
    this.app.changed();
  }

  async showCards() {
    const place = this.app.place();
    let cards = this.app.docs.get("cards");
    try {
      cards = (await ask("GET", place ? `cards?lat=${place.lat}&lon=${place.lon}` : "cards")).cards;
      this.app.keep("cards", cards);
    } catch (e) {
      if (!cards) this.cards.replaceChildren(el("p", {}, whyNot(e)));
    }
    if (cards) this.cards.replaceChildren(...cards.map((/** @type {any} */ c) => card(c)), el("p", { class: "soft" }, "Nine flights of ten are between the two figures in brackets."));
  }
}

const names = /** @type {Record<string, string>} */ ({ apogee: "Highest point", ejection: "Ejection", opening: "Device open", landing: "Landing", burnout: "Burnout" });

/** @param {any} c */
function card(c) {
  const pair = (/** @type {number[]} */ p, /** @type {(n: number) => string} */ f) => (p ? ` (${f(p[0])} to ${f(p[1])})` : "");
  const whole = (/** @type {number} */ n) => String(Math.round(n));
  return el("div", { class: "card" }, el("h3", {}, "From " + (c.name || "here")), el("ul", {}, ...c.events.map((/** @type {any} */ e) => el("li", {}, el("b", {}, names[e.event] || e.event),
    ` ${Math.round(e.at_s)} s${pair(e.at_s_90, whole)}: look ${[bearingWord(e.bearing_deg), compassWord(e.bearing_deg, c.declination_deg ?? undefined)].filter(Boolean).join(", ")}`,
    `, ${Math.round(e.elevation_deg)}° up${pair(e.elevation_deg_90, whole)}, ${metresWord(e.distance_m)} away`))));
}

