// What leads: the lane that is walked, how far off it one is, what comes next.
import { button, el, once } from "../dom.js";
import { bearingOf, distance, turn } from "./frame.js";
import { length } from "./lead.js";
import { bearingWord, compassWord, count, metresWord, offWord } from "./words.js";
import { courseOf } from "./where.js";

/** @typedef {import("./walk.js").Walk} Walk */

/** What a step of a block is called. @param {import("./lead.js").Step} step */
function laneWord(step) { return step.stage.rectangle ? "course" : "lane"; }

export class LeadPanel {
  /**
   * @param {HTMLElement} box @param {Walk} walk @param {number | undefined} declination
   * @param {{done: string, none: string}} words what to say when all is walked, and where nothing is planned
   */
  constructor(box, walk, declination, words) {
    this.walk = walk;
    this.declination = declination;
    this.words = words;
    /** @type {{key: string, state: string | null, byItself: boolean} | null} what was ticked and is still to be told */
    this.note = null;
    this.title = el("h2", { id: "lead-title" });
    this.figures = el("div", { class: "figures" });
    this.next = el("p", { class: "next" });
    this.later = el("p", { class: "caution", hidden: true });
    this.buttons = el("div", { class: "thumbs" });
    this.done = once(() => this.tick("done")); // the next lane is not under a thumb that bounces
    this.skip = once(() => this.tick("skipped"));
    this.undoBar = el("p", { class: "undo", role: "status", hidden: true });
    box.replaceChildren(this.undoBar, this.title, this.figures, this.buttons, this.next, this.later);
    walk.addEventListener("move", () => this.show());
    walk.addEventListener("tick", (e) => {
      const d = this.note = /** @type {CustomEvent} */ (e).detail;
      if (d.byItself) navigator.vibrate?.([180, 80, 180]);
      this.show();
    });
    this.show();
  }

  /** @param {"done" | "skipped"} state of the step that is now */
  tick(state) { if (this.walk.step) this.walk.tick(this.walk.step.key, state); }

  /** @param {{key: string, state: string | null, byItself: boolean}} d */
  told(d) {
    const lane = this.walk.steps.find((s) => s.key === d.key);
    if (!lane || !this.walk.undoable) {
      this.undoBar.hidden = true;
      return;
    }
    this.undoBar.hidden = false;
    this.undoBar.replaceChildren(lane.block ? `${lane.block} ${laneWord(lane)} ${lane.lane} ${d.state === "skipped" ? "left out" : "walked"}. ` : "You are there. ",
      button("Take it back", () => this.walk.undo(), { class: "plain" }));
  }

  show() {
    if (document.hidden) return;
    if (this.note) this.told(this.note);
    this.note = null;
    const w = this.walk, step = w.step;
    if (!step) {
      const t = w.tally();
      this.title.textContent = w.steps.length ? (t.skipped ? `Walked ${t.done} of ${t.all} lanes, left out ${t.skipped}` : "All lanes are walked") : this.words.none;
      this.figures.replaceChildren();
      this.next.textContent = w.steps.length ? this.words.done : "";
      this.later.hidden = true;
      this.buttons.replaceChildren();
      return;
    }
    this.title.textContent = step.block ? `${step.block}, ${laneWord(step)} ${step.lane} of ${step.lanes}` : this.wayTitle();
    this.showFigures(step);
    this.showNext(step);
    this.later.hidden = !step.stage.later;
    this.later.textContent = step.stage.later || "";
    this.showButtons(step);
  }

  wayTitle() {
    const w = this.walk, after = w.steps.slice(w.now).find((s) => s.block);
    return after ? "To where " + after.block + " begins" : "The way home";
  }

  /** @param {import("./lead.js").Step} step */
  showFigures(step) {
    const a = this.walk.advice(), boxes = [];
    const figure = (/** @type {string} */ label, /** @type {string} */ value, more = "", cls = "") =>
      el("div", { class: "figure " + cls }, el("span", { class: "soft" }, label), el("b", {}, value), more ? el("span", { class: "more" }, more) : null);
    if (!a) {
      const deg = bearingOf(step.line[0], step.line[step.line.length - 1]);
      boxes.push(figure("Bearing", bearingWord(deg), compassWord(deg, this.declination)), figure("Length", metresWord(length(step.line))));
    } else if (a.say === "to" || a.say === "way") {
      const to = /** @type {{to: number}} */ (/** @type {any} */ (a)).to;
      boxes.push(figure("Go on", bearingWord(a.bearing), compassWord(a.bearing, this.declination)), figure(a.say === "to" ? (this.walk.passed?.open ? "To what is left" : "To its begin") : "Next corner", metresWord(to)));
      if (a.say === "way") boxes.push(figure("In all", metresWord(a.left)));
    } else {
      const off = offWord(a.off, this.walk.fix?.acc || 0), far = Math.abs(a.off) > (this.walk.passed?.near || 8);
      boxes.push(figure("Bearing", bearingWord(a.bearing), compassWord(a.bearing, this.declination)),
        figure(step.stage.rectangle ? "Off course" : "Off the lane", off.words, off.side || " ", far ? "wrong" : ""), figure("To its end", metresWord(a.left)));
    }
    this.figures.replaceChildren(...boxes, ...this.arrow(a));
  }

  /** An arrow against the way one walks, while that is known. @param {any} a */
  arrow(a) {
    const course = courseOf(this.walk.track.pieces.at(-1) || [], (f) => this.walk.xy(f));
    if (!a || course === null) return [];
    let want = a.bearing;
    if (a.say === "along") want -= Math.max(-60, Math.min(60, a.off * 3));
    const by = Math.round(turn(course, want));
    const words = Math.abs(by) <= 12 ? "straight on" : Math.abs(by) > 150 ? "turn round" : `turn ${by > 0 ? "right" : "left"} ${Math.round(Math.abs(by) / 5) * 5}°`;
    const i = el("i", { "aria-hidden": "true" });
    i.style.transform = `rotate(${by}deg)`;
    return [el("div", { class: "arrow" }, i, el("span", {}, words))];
  }

  /** @param {import("./lead.js").Step} step */
  showNext(step) {
    const t = this.walk.tally(), tally = el("span", { class: "soft" }, ` ${t.done} of ${count(t.all, "lane")} walked.`);
    const after = this.walk.steps[this.walk.now + 1], end = step.line[step.line.length - 1];
    if (!after) {
      this.next.replaceChildren("Nothing after it.", tally);
      return;
    }
    const gap = distance(end, after.line[0]), deg = bearingWord(bearingOf(end, after.line[0]));
    const what = !after.block ? "a way of " + metresWord(length(after.line)) : after.block === step.block ? laneWord(step) + " " + after.lane : after.block;
    this.next.replaceChildren(gap > 2 ? `Then ${metresWord(gap)} on ${deg} to ${what}.` : `Then ${what}, ${bearingWord(bearingOf(after.line[0], after.line[after.line.length - 1]))}.`, tally);
  }

  /** @param {import("./lead.js").Step} step */
  showButtons(step) {
    const key = step.key + (step.block ? "" : " way");
    if (this.buttons.dataset.step === key && this.buttons.childElementCount) return;
    this.buttons.dataset.step = key;
    this.buttons.replaceChildren(
      button(step.block ? (step.stage.rectangle ? "Course done" : "Lane done") : "I am there", this.done, { class: "act" }),
      button("Skip", this.skip, { "aria-label": step.block ? `Skip ${laneWord(step)} ${step.lane} of ${step.block}` : "Skip this way" }));
  }
}
