// Who searches as whom, what is left, planning anew, and the people.
import { ask } from "../api.js";
import { button, el, newId, say } from "../dom.js";
import { fold } from "./shell.js";
import { clockWord, count, metresWord, spanWord, whyNot } from "./words.js";

/** @typedef {import("./crewapp.js").App} App */

/** The box in which one says whom one searches as. @param {App} app @param {HTMLElement} box */
export function showWho(app, box) {
  const doc = app.field.doc;
  if (!doc) return;
  const mine = app.searcher, id = newId();
  const key = JSON.stringify([mine, doc.searchers.map((s) => [s.name, s.state, s.by])]);
  if (box.dataset.key === key) return;
  box.dataset.key = key;
  const choose = el("select", {
    id, onchange: () => {
      if (mine) app.outbox.say("leave", { searcher: mine });
      if (choose.value) app.outbox.say("arrive", { searcher: choose.value });
      app.setSearcher(choose.value);
    },
  }, el("option", { value: "" }, "nobody"), ...doc.searchers.map((s) => el("option", { value: s.name, selected: s.name === mine }, s.name + (s.by && s.by !== doc.me.name ? ` (${s.by}'s phone)` : ""))));
  box.replaceChildren(el("p", { class: "pair beside" }, el("label", { for: id }, "This phone goes with"), choose));
}

/** What the others do. @param {App} app */
export function others(app) {
  const doc = app.field.doc;
  if (!doc) return [];
  const words = { expected: "expected", in: "searching", late: "late", left: "gone home" };
  return doc.searchers.map((s) => {
    const stages = app.chart?.searchers?.find((x) => x.name === s.name)?.stages || [];
    const lanes = stages.flatMap((g) => (g.lanes || []).map((_, i) => app.field.lane(g.block || "", i + 1)));
    const p = doc.people.find((q) => q.searcher === s.name), at = p?.position;
    const next = stages.find((g) => g.block && (g.lanes || []).some((_, i) => !app.field.lane(g.block || "", i + 1)));
    return el("li", {}, el("b", {}, s.name), ` (${s.kind}): ${words[s.state]}${s.state === "late" && s.late_min ? ` by ${s.late_min} min` : ""}. `,
      lanes.length ? `${lanes.filter((x) => x === "done").length} of ${count(lanes.length, "lane")} walked${next ? ", at " + next.block : ""}. ` : "Nothing planned. ",
      at ? `Seen ${spanWord(1000 * at.age_s)} ago.` : "");
  });
}

/** What is left and where it has moved. @param {App} app @param {HTMLElement} box */
export function showLeft(app, box) {
  const l = app.field.left, brief = app.field.doc?.left;
  const go = button(l ? "Work it out anew" : "Work out what is left", async () => {
    go.disabled = true;
    try {
      await app.field.askLeft();
    } catch (e) {
      say(whyNot(e), true);
    }
    go.disabled = false;
  });
  const near = l?.landing?.areas?.find((/** @type {any} */ a) => a.probability === 0.9);
  box.replaceChildren(...(l ? [
    brief?.stale ? el("p", { class: "caution" }, "Something was logged since; this is from before. It is worked out anew by and by.") : "",
    l.probability_of_success_total <= 0 ? "" : el("p", {}, el("b", {}, `${Math.round(100 * l.probability_of_success_total)} %`), " was the chance that the ground gone over so far would show it."),
    near ? el("p", {}, `Nine of ten of what is left lies in ${(near.area_m2 / 10000).toFixed(1)} ha: the darker on the map, by night the lighter, the likelier${l.mean_moved_m > 1 ? `; its middle has moved ${metresWord(l.mean_moved_m)}` : ""}.`) : "",
    l.next_hour ? el("p", {}, `Another hour would find it with ${Math.round(100 * l.next_hour.probability_of_success)} %.`) : "",
    l.advice ? el("p", { class: "next" }, l.advice[0].toUpperCase() + l.advice.slice(1).replace("windfall search plans it from here", "plan anew from here") + ".") : ""] : [el("p", {}, "The laptop works it out of the sightings and of the ground that was gone over.")]), go);
}

/** Planning anew when somebody comes, goes or is late. @param {App} app */
export function replanBox(app) {
  const id = newId(), who = el("select", { id: id + "w" }), min = el("input", { id: id + "m", type: "number", inputMode: "numeric", min: "1", max: "600", value: "15" });
  const fill = () => who.replaceChildren(...(app.field.doc?.searchers || []).map((s) => el("option", { value: s.name, selected: s.name === app.searcher }, s.name)));
  const tell = (/** @type {string} */ kind, /** @type {string} */ words) => button(words, () => {
    app.outbox.say(kind, { searcher: who.value, ...kind === "late" ? { minutes: Number(min.value) } : {} });
    say(`${who.value}: ${words.toLowerCase()}. Now plan anew if it matters.`);
  });
  const go = button("Plan anew from here", async () => {
    go.disabled = true;
    go.textContent = "Planning…";
    try {
      await app.outbox.send();
      await ask("POST", "plan", app.field.doc?.plan ? { if_plan: app.field.doc.plan.number } : {});
      await app.field.refresh();
      say("There is a new plan. Lanes that were walked stay walked.");
    } catch (e) {
      say(whyNot(e), true);
    }
    go.disabled = false;
    go.textContent = "Plan anew from here";
  }, { class: "act" });
  const box = fold("Somebody comes, goes or is late", false, el("p", { class: "pair" }, el("label", { for: id + "w" }, "Who"), who),
    el("div", { class: "chips" }, tell("arrive", "Is here"), tell("leave", "Goes home")), el("p", { class: "pair" }, el("label", { for: id + "m" }, "Minutes late"), min), el("div", { class: "chips" }, tell("late", "Is late")),
    el("p", {}, "A new plan takes what is left, who is here, and where they were last seen. Lanes in the old plan can still be ticked."), go);
  box.addEventListener("toggle", fill);
  return box;
}

export class PeoplePanel {
  /** @param {HTMLElement} box @param {App} app */
  constructor(box, app) {
    this.app = app;
    this.me = el("div", {});
    this.queue = el("div", {});
    this.people = el("div", {});
    this.log = el("div", {});
    const log = fold("All that was logged", false, this.log);
    log.addEventListener("toggle", () => this.show());
    box.append(this.me, this.queue, el("h2", {}, "Who is in"), this.people, log);
  }

  show() {
    const { field, outbox } = this.app, doc = field.doc;
    if (!doc) return;
    const off = outbox.clockOff;
    this.me.replaceChildren(el("p", {}, "You are ", el("b", {}, doc.me.name || "without a name"), doc.me.host ? ", at the laptop. " : ".", doc.me.host ? el("a", { href: "/" }, "The flight on the map") : ""),
      Math.abs(off) > 5 ? el("p", { class: "caution" }, `This phone's clock is ${spanWord(1000 * Math.abs(off))} ${off > 0 ? "ahead" : "behind"}. What you press is put right as it is sent.`) : "");
    this.queue.replaceChildren(...this.waiting(), ...this.notices(), ...doc.conflicts.map((c) => el("p", { class: "caution" }, c.message)));
    this.people.replaceChildren(el("ul", { class: "log" }, ...doc.people.map((p) => el("li", {}, el("span", {}, el("b", {}, p.name || "without a name"), p.searcher ? ", with " + p.searcher : "", p.id === doc.me.id ? ", this phone" : p.here ? ", in range" : ", out of range",
      p.position ? `, seen ${spanWord(1000 * p.position.age_s)} ago` : "")))));
    if (doc.me.host && !this.hostDone) {
      this.hostDone = true;
      import("./hostpanel.js").then((m) => m.hostBox(this.app)).then((b) => this.people.after(b), () => { this.hostDone = false; }); // out of range: later
    }
    if (this.log.parentElement?.hasAttribute("open")) this.log.replaceChildren(el("ul", { class: "log" }, ...doc.entries.slice().reverse().map((e) => el("li", {}, el("span", {}, `${clockWord(Date.parse(e.at))} ${e.says.startsWith(e.by + ": ") ? "" : e.by + ": "}${e.says}${e.withdrawn ? " (taken back)" : ""}`)))));
  }

  waiting() {
    const { outbox, store } = this.app, n = outbox.size;
    const out = [];
    if (!store.lasting) out.push(el("p", { class: "fault" }, "This browser keeps nothing: what is not sent is lost when the page is closed."));
    if (!window.isSecureContext) out.push(el("p", { class: "caution" }, "This connection is not secure: the browser gives no position, and the page cannot be opened again out of range. Keep it open; what you say is kept."));
    if (n) out.push(el("p", {}, `${count(n, "thing")} said here ${n === 1 ? "waits" : "wait"} to be sent. Keep this page; nothing is lost by a reload.`), button("Try to send now", () => outbox.send()));
    for (const f of outbox.others) out.push(el("p", { class: "caution" }, `Something was said of flight ${f} and waits until the laptop serves that one again.`));
    return out;
  }

  notices() {
    return this.app.notices.map((n) => el("p", { class: "fault" }, n.message, " ", button("Close", () => this.app.dismiss(n), { class: "plain" })));
  }
}
