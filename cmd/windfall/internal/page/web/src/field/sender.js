// The way of this phone on its way to the laptop: fixes in portions, and the
// last position for the others to see.
import { button, el, say } from "../dom.js";
import { digest } from "./gpx.js";
import { newKey } from "./outbox.js";
import { Track } from "./track.js";
import { giveButtons, gpxBox, trackWords } from "./trackpanel.js";
import { count } from "./words.js";

/** @typedef {import("./chart").Fix} Fix */

const portion = 30, often = 10e3; // fixes in an entry, ms between positions: choices of ours
const loadedPortion = 1000, mostFixes = 100_000; // fixes of a loaded track in an entry, and as the laptop takes

/** @param {Fix} f */
const row = (f) => ({ at: new Date(f.t).toISOString(), lat: +f.lat.toFixed(7), lon: +f.lon.toFixed(7), accuracy_m: Math.round(f.acc) });

export class Sender {
  /** @param {import("./crewapp.js").App} app @param {any} kept */
  constructor(app, kept) {
    this.app = app;
    this.track = new Track(kept?.track);
    this.recording = kept?.recording || newKey();
    /** @type {any[]} fixes that are in no entry yet */
    this.rest = kept?.rest || [];
    this.toldAt = 0;
    this.keptAt = 0;
    /** @type {Fix[][]} what was loaded last, to be seen */
    this.loaded = [];
    this.loadBox = gpxBox("Log a track of another receiver (GPX)", (pieces) => this.load(pieces));
  }

  /** Takes a fix; the answer says whether it is of the track. @param {Fix} f @param {(a: Fix, b: Fix) => number} metres */
  take(f, metres) {
    const pieces = this.track.pieces.length;
    if (f.t - this.toldAt >= often) {
      this.toldAt = f.t;
      this.app.outbox.say("position", { lat: +f.lat.toFixed(7), lon: +f.lon.toFixed(7), accuracy_m: Math.round(f.acc) }, f.t);
    }
    if (!this.track.add(f, metres)) return false;
    this.rest.push({ ...row(f), ...pieces && this.track.pieces.length > pieces ? { gap: true } : {} });
    if (this.rest.length >= portion) this.flush();
    else if (Date.now() - this.keptAt > 10e3) this.keep();
    return true;
  }

  /** Puts what was recorded since into an entry. */
  flush() {
    if (this.rest.length) this.app.outbox.say("track", { recording: this.recording, fixes: this.rest, ...this.app.searcher ? { searcher: this.app.searcher } : {} });
    this.rest = [];
    this.keep();
  }

  keep() {
    this.keptAt = Date.now();
    this.app.keep("track", { track: this.track.kept(), recording: this.recording, rest: this.rest });
  }

  /** @param {any} r */
  answered(r) {
    if (r.entry?.kind === "track" && r.message) this.words = r.message;
  }

  /** @param {HTMLElement} box */
  show(box) {
    const { app } = this, walk = app.walk;
    if (!walk || (box.childElementCount && !box.parentElement?.hasAttribute("open"))) return;
    box.replaceChildren(...trackWords(this.track, walk.metres, app.follow.on).map((s) => el("p", {}, s)), this.words ? el("p", { class: "soft" }, this.words) : "",
      app.follow.on ? button("Stop following", () => {
        this.track.pause("not followed");
        this.flush();
        app.follow.stop();
      }) : "", el("div", { class: "chips" }, ...giveButtons(this.track, app.searcher || "track", "walk.gpx")),
      this.loadBox);
  }

  /**
   * Logs a track of another receiver, in portions that a weak signal takes. Their
   * keys are of what it says: however often it is loaded, it is logged once.
   * @param {Fix[][]} pieces
   */
  load(pieces) {
    const { app } = this, fixes = pieces.flatMap((p, k) => p.map((f, i) => ({ at: new Date(f.t).toISOString(), lat: f.lat, lon: f.lon, ...k && !i ? { gap: true } : {} })));
    if (fixes.length > mostFixes) throw new Error(`this track has ${fixes.length} fixes, more than ${mostFixes}; log it at the laptop with windfall searched`);
    const name = "gpx-" + digest(pieces), before = (app.field.doc?.entries || []).filter((e) => e.key?.startsWith(name));
    if (before.some((e) => !e.withdrawn) || app.outbox.of("track").some((e) => e.key.startsWith(name))) throw new Error("this track is logged already");
    const recording = name + (before.length ? "-" + (before.length + 1) : "");
    const searcher = app.searcher ? { searcher: app.searcher } : {}, end = Math.max(...pieces.map((p) => p[p.length - 1].t));
    for (let n = 0; n * loadedPortion < fixes.length; n++) {
      app.outbox.say("track", { recording, loaded: true, fixes: fixes.slice(n * loadedPortion, (n + 1) * loadedPortion), ...searcher }, end, `${recording}-${n}`);
    }
    this.loaded = pieces;
    app.map.drawTrack(this.track.pieces, pieces);
    const ticked = app.walk?.tickWalked(pieces) || 0;
    say(`Taken. It counts as searched when it has reached the laptop.${ticked ? ` ${count(ticked, "lane is", "lanes are")} ticked.` : ""}`);
  }
}
