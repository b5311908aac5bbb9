// The find: one press, seen on all phones, with a line to say what it looked like.
import { button, byId, el, newId, once, say } from "../dom.js";
import { clockWord, metresWord } from "./words.js";

/** @typedef {import("./crewapp.js").App} App */

export class FindPanel {
  /** @param {HTMLElement} box @param {App} app */
  constructor(box, app) {
    this.app = app;
    this.drawn = "";
    this.told = "";
    const id = newId();
    this.part = el("select", { id: id + "p" });
    this.words = el("input", { id, maxLength: 500, placeholder: "such as: nose in the mud, canopy in a tree" });
    this.more = el("div", {});
    this.list = el("div", {});
    box.append(el("h2", {}, "Found it?"), el("p", { class: "caution" }, "Stand off and look first: a motor or a charge may be live. Never climb, and never touch a power line."),
      el("p", { class: "pair", id: id + "part" }, el("label", { for: id + "p" }, "What"), this.part),
      el("div", { class: "thumbs" }, button("I have found it", once(() => this.found()), { class: "act found" })),
      this.more, this.list);
    this.show();
  }

  found() {
    const at = this.app.place();
    if (!at) {
      say("No position yet: press Follow me under Search, or press and hold the map where it lies.", true);
      return;
    }
    const key = this.app.outbox.say("find", { lat: at.lat, lon: at.lon, ...at.acc ? { accuracy_m: Math.round(at.acc) } : {}, ...this.part.value ? { part: this.part.value } : {} });
    navigator.vibrate?.([100, 60, 100, 60, 300]);
    this.ask(key);
    this.app.changed();
  }

  /** Asks what it looked like, after the find is logged. @param {string} key */
  ask(key) {
    const id = newId();
    this.words = el("input", { id, maxLength: 500, placeholder: "nose in the mud, canopy in a tree" });
    this.more.replaceChildren(el("p", { role: "status" }, el("b", {}, "Logged. ")), el("p", { class: "pair" }, el("label", { for: id }, "What did it look like?"), this.words),
      el("div", { class: "chips" }, button("Say so", () => {
        if (!this.words.value.trim()) return;
        this.app.outbox.say("amend", { of: key, looks_like: this.words.value.trim() });
        this.more.replaceChildren(el("p", {}, "Said."));
      }, { class: "act" }), button("It was not it: take it back", () => {
        this.app.takeBack(key);
        this.more.replaceChildren();
      })));
    this.more.scrollIntoView({ block: "center" });
  }

  show() {
    const parts = this.app.field.doc?.flight.parts || [], want = JSON.stringify(parts);
    if (this.drawn !== want) {
      this.drawn = want;
      this.part.replaceChildren(el("option", { value: "" }, "the rocket"), ...parts.map((p) => el("option", { value: p }, p)));
      const p = this.part.parentElement;
      if (p) p.hidden = !parts.length;
    }
    const finds = this.app.said(["find"]);
    this.list.replaceChildren(el("h3", {}, finds.length ? "Found" : "Nothing is found yet"), el("ul", { class: "log" }, ...finds.slice().reverse().map((e) => this.row(e))));
    this.banner(finds);
  }

  /** @param {any} e */
  row(e) {
    const li = this.app.line(e), at = e.body;
    if (at?.lat !== undefined) li.append(button("Show", () => this.app.showPlace(at.lat, at.lon), { class: "plain", "aria-label": "Show the find" }));
    return li;
  }

  /** Says it at the top of every screen. @param {any[]} finds */
  banner(finds) {
    const box = byId("found"), last = finds.at(-1);
    box.hidden = !last;
    if (!last) return;
    const at = last.body || {}, me = this.app.place();
    const far = me && at.lat !== undefined ? this.app.metresTo(me, at) : null;
    const text = `Found by ${last.by} at ${clockWord(Date.parse(last.at))}${at.part ? ": " + at.part : ""}${at.looks_like ? ": " + at.looks_like : ""}${far === null ? "" : ", " + metresWord(far) + " from you"}.`;
    if (this.told === text) return;
    this.told = text;
    box.replaceChildren(el("span", {}, text, finds.length > 1 ? ` ${finds.length} finds in all.` : ""), button("Show", () => this.app.showPlace(at.lat, at.lon), { class: "plain", "aria-label": "Show the find on the map" }));
  }
}
