// search.html: a plan on one page, without a server and without a network.
import { button, byId, el, newId, say } from "../dom.js";
import { showBlocks } from "./blocklist.js";
import { ChartMap } from "./chartmap.js";
import { Follow } from "./follow.js";
import { LeadPanel } from "./leadpanel.js";
import { looks, tabs } from "./shell.js";
import { Ticks } from "./ticks.js";
import { Track } from "./track.js";
import { giveButtons, gpxBox, trackWords } from "./trackpanel.js";
import { courseOf, parsePlace } from "./where.js";
import { Walk } from "./walk.js";
import { cautionList, placeList } from "./notes.js";

/** @typedef {{plan: string, file: string, only: string, base?: import("../types").BaseMap, chart: import("./chart").Chart}} Doc */

const store = {
  /** @param {string} k @returns {any} */
  get(k) { try { return JSON.parse(localStorage.getItem(k) || "null"); } catch { return null; } },
  /** @param {string} k @param {unknown} v */
  set(k, v) { try { localStorage.setItem(k, JSON.stringify(v)); return true; } catch { return false; } },
};

class Page {
  /** @param {Doc} doc */
  constructor(doc) {
    this.doc = doc;
    this.chart = doc.chart;
    this.map = new ChartMap(byId("map"), doc.chart);
    if (doc.base) this.map.base(doc.base);
    this.follow = new Follow("windfall follows");
    this.follow.addEventListener("fix", (e) => this.fix(/** @type {CustomEvent} */ (e).detail));
    this.follow.addEventListener("state", () => this.showWhere());
    this.open = tabs([["lead", "Lead"], ["blocks", "Blocks"], ["track", "Track"], ["notes", "Notes"]], (name) => { if (name === "track" && this.track) this.showTrack(); });
    this.loaded = /** @type {import("./chart").Fix[][]} */ ([]);
    this.loadBox = gpxBox("Load a track of another receiver (GPX)", (pieces) => this.load(pieces));
    this.whoBox();
    this.leadBox = el("div", {});
    this.whereBox = el("div", {});
    byId("part-lead").append(this.leadBox, this.whereBox);
    this.notes();
    this.take(this.who());
    this.map.whole();
    this.byHand();
    document.addEventListener("visibilitychange", () => this.seen());
    window.addEventListener("pagehide", () => this.keep());
    if (this.follow.wanted) this.follow.start();
    else this.showWhere();
  }

  who() {
    const names = (this.chart.searchers || []).map((s) => s.name), kept = store.get("windfall who " + this.doc.plan);
    return this.doc.only || (names.includes(kept) ? kept : names[0] || "");
  }

  whoBox() {
    if (this.doc.only) byId("who").hidden = true;
    const names = this.doc.only ? [this.doc.only] : (this.chart.searchers || []).map((s) => s.name);
    const box = /** @type {HTMLSelectElement} */ (byId("who"));
    box.append(...names.map((n) => el("option", { value: n }, n)));
    box.value = this.who();
    box.addEventListener("change", () => {
      store.set("windfall who " + this.doc.plan, box.value);
      this.take(box.value);
    });
  }

  /** Takes the part of one searcher. @param {string} who */
  take(who) {
    this.keep();
    this.name = who;
    this.ticks = new Ticks(this.doc.plan, who);
    this.track = new Track(store.get(this.trackName()));
    const walk = this.walk = new Walk(this.chart, who, this.ticks, this.track);
    new LeadPanel(this.leadBox, walk, this.chart.declination_deg, { done: "Give the track back, under Track.", none: "This plan has nothing for this name." });
    walk.addEventListener("move", () => this.moved());
    walk.addEventListener("tick", () => {
      this.draw();
      this.moved();
    });
    this.draw();
    this.showTrack();
  }

  trackName() { return "windfall track " + this.doc.plan + " " + this.name; }

  /** Puts the track away. */
  keep() {
    if (!this.track?.count) return;
    this.lasting = store.set(this.trackName(), this.track.kept());
    this.keptAt = Date.now();
  }

  draw() {
    const walk = /** @type {Walk} */ (this.walk);
    this.map.drawPlan(this.name || "", (block, lane) => this.ticks?.of(block + "-" + String(lane).padStart(2, "0"))?.state, walk.block);
    this.map.drawStep(walk.step);
    showBlocks(byId("blocks"), walk, (key) => {
      walk.choose(key);
      this.open("lead");
    });
  }

  moved() {
    if (document.hidden || !this.walk) return;
    if (this.walk.fix) this.map.drawSelf(this.walk.fix, courseOf(this.track?.pieces.at(-1) || [], (f) => this.frameXY(f)));
    this.map.drawStep(this.walk.step);
  }

  /** @param {{lat: number, lon: number}} f */
  frameXY(f) { return /** @type {Walk} */ (this.walk).frame.toXY(f.lat, f.lon); }

  begin() {
    this.follow.start();
    this.showTrack();
  }

  stop() {
    this.track?.pause("not followed");
    this.keep();
    this.follow.stop();
    this.showTrack();
  }

  /** @param {import("./chart").Fix} f */
  fix(f) {
    const walk = /** @type {Walk} */ (this.walk), track = /** @type {Track} */ (this.track), first = !walk.fix;
    if (this.follow.near(this.frameXY(f)) && track.add(f, walk.metres)) walk.at(f);
    else walk.stand(f);
    if (first) this.map.follow(true);
    if (Date.now() - (this.keptAt || 0) > 10e3) this.keep();
    if (document.hidden) return;
    this.map.extendTrack(track.pieces, this.loaded);
    this.showWhere();
    if (!byId("part-track").hidden) this.showTrack();
  }

  /** The page is looked at again, or no longer. */
  seen() {
    if (document.hidden) return this.keep();
    const last = this.track?.last;
    if (last && this.follow.on && Date.now() - last.t > 5000) this.track?.pause("the screen was off");
    this.moved();
    this.walk?.dispatchEvent(new Event("move"));
    this.showTrack();
  }

  showWhere() {
    const on = this.follow.on, acc = this.walk?.fix?.acc;
    byId("fix").textContent = on && acc !== undefined ? `±${Math.round(acc)} m, recording` : "";
    const words = this.follow.why || (on ? "" : "Press Follow me to be led and to record your way while this page is open. Nothing leaves this phone.");
    if (this.shown === on + words) return;
    this.shown = on + words;
    this.whereBox.replaceChildren(...words ? [el("p", { role: "status", class: "where" }, words)] : [],
      ...on ? [] : [el("div", { class: "chips" }, button("Follow me", () => this.begin(), { class: "act" }))]);
  }

  showTrack() {
    const t = /** @type {Track} */ (this.track), walk = /** @type {Walk} */ (this.walk);
    this.map.drawTrack(t.pieces, this.loaded);
    const name = "walk-" + ((this.name || "").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "track") + ".gpx";
    byId("track").replaceChildren(el("h2", {}, "Your way"),
      ...trackWords(t, walk.metres, this.follow.on).map((s) => el("p", {}, s)),
      this.follow.on ? button("Stop following", () => this.stop()) : button("Follow me", () => this.begin()),
      this.lasting === false || this.ticks?.lasting === false ? el("p", { class: "fault" }, "This browser keeps nothing for this page: save the track before you close it.") : "",
      el("div", { class: "chips" }, ...giveButtons(t, this.name || "", name)),
      el("p", {}, "Give the file to whoever has the laptop. There it is logged with"), el("pre", { tabIndex: 0 }, `windfall searched ${this.doc.file} ${name} --by "${this.name}"`),
      this.loadBox, button("Forget this track", () => this.forget()));
  }

  /** A track that another receiver has recorded: shown, and its lanes ticked. @param {import("./chart").Fix[][]} pieces */
  load(pieces) {
    this.loaded = pieces;
    say(this.tickWalked(pieces));
    this.draw();
    this.showTrack();
  }

  /** @param {import("./chart").Fix[][]} pieces */
  tickWalked(pieces) {
    const walk = /** @type {Walk} */ (this.walk);
    const n = walk.tickWalked(pieces);
    return n === 0 ? "The track is on the map. It follows no lane of yours to its end." : `The track is on the map; ${n === 1 ? "1 lane is" : n + " lanes are"} ticked.`;
  }

  forget() {
    if (!window.confirm("Forget the track of " + this.name + "? It cannot be brought back.")) return;
    this.track = new Track();
    try {
      localStorage.removeItem(this.trackName());
    } catch { /* nothing was kept */ }
    this.take(this.name || "");
  }

  notes() {
    const id = newId(), put = el("input", { id, inputMode: "text", placeholder: "41.90920, -4.91957" });
    byId("notes").replaceChildren(
      el("h2", {}, "Where you are, by hand"),
      el("p", {}, "Where the browser gives no position: type one, or press and hold the map where you stand."),
      el("p", { class: "pair" }, el("label", { for: id }, "Latitude, longitude in degrees"), put, button("I am here", () => {
        const at = parsePlace(put.value);
        if (at) this.here(at[0], at[1]);
        else say("Write latitude and longitude in degrees, such as 41.90920, -4.91957.", true);
      })), ...cautionList(this.chart), ...placeList(this.chart, this.map));
  }

  byHand() { this.map.map.on("contextmenu", (/** @type {any} */ e) => this.here(e.latlng.lat, e.latlng.lng)); }

  /** @param {number} lat @param {number} lon */
  here(lat, lon) {
    this.walk?.stand({ t: Date.now(), lat, lon, acc: 10 });
    this.moved();
    say("You stand here until a position comes. This is not recorded.");
    this.open("lead");
  }
}

try {
  looks();
  new Page(JSON.parse(byId("doc").textContent || ""));
} catch (e) {
  say("The page cannot start: " + /** @type {Error} */ (e).message, true);
}
