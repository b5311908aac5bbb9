// The crew's page: one phone of several, on one flight. What is said here goes
// through the outbox, what is shown comes from the laptop or from what was kept.
import { button, byId, el, say } from "../dom.js";
import { ask } from "../api.js";
import { fetchAhead } from "./ahead.js";
import { showBlocks } from "./blocklist.js";
import { ChartMap, L, mark } from "./chartmap.js";
import { ClockPanel } from "./clockpanel.js";
import { others, PeoplePanel, replanBox, showLeft, showWho } from "./crewpanel.js";
import { CrewField, CrewTicks } from "./crewfield.js";
import { FindPanel } from "./findpanel.js";
import { Follow } from "./follow.js";
import { distance } from "./frame.js";
import { LeadPanel } from "./leadpanel.js";
import { cautionList, placeList } from "./notes.js";
import { withLeft } from "./left.js";
import { fold, tabs } from "./shell.js";
import { SawPanel } from "./sawpanel.js";
import { Sender } from "./sender.js";
import { Track } from "./track.js";
import { Walk } from "./walk.js";
import { courseOf, secureWords } from "./where.js";
import { clockWord, count } from "./words.js";

/** @typedef {import("./chart").Fix} Fix */

/** What a phone says of what it has not sent yet, by kind. @type {Record<string, string>} */
const kindWords = { ignition: "ignition", timing: "", bearing: "a sighting", height: "a height", nothing: "nothing came down there", looked: "how it fell", find: "found", lane: "lane", track: "way", withdraw: "taken back", amend: "amended", arrive: "is here", leave: "goes home", late: "is late" };

export class App {
  /** @param {import("./store.js").Store} store @param {import("./outbox.js").Outbox} outbox @param {Map<string, any>} docs */
  constructor(store, outbox, docs) {
    this.store = store;
    this.outbox = outbox;
    this.docs = docs;
    this.planShown = -1; // number of the plan on the map
    this.shownOnce = false;
    this.aheadOf = ""; // plan and base map whose tiles are here, or on their way
    /** @type {(() => void)[]} what is to be drawn when the page is looked at again */
    this.unseen = [];
    this.fixed = false;
    /** @type {Fix | null} where somebody said that they stand */
    this.byHand = null;
    /** @type {{key: string, message: string}[]} what the laptop did not take, until it is read */
    this.notices = docs.get("notices") || [];
    this.field = new CrewField(store, outbox, docs);
    this.map = new ChartMap(byId("map"), this.emptyChart());
    this.follow = new Follow("windfall crew follows");
    this.others = L.layerGroup().addTo(this.map.map);
    this.open = tabs([["clock", "Clock"], ["saw", "Saw"], ["search", "Search"], ["find", "Find"], ["people", "Crew"]], (name) => this.opened(name));
    this.searcher = docs.get("searcher") || "";
    this.build();
    this.listen();
    this.takeChart();
    this.changed();
    this.field.follow();
    this.field.refresh();
    this.base();
    if (this.follow.wanted) this.follow.start();
  }

  emptyChart() {
    const pad = this.field.doc?.flight.pad || { lat: 0, lon: 0 };
    return this.field.chart?.chart || { title: "", subtitle: "", pad, areas: [] };
  }

  get declination() { return this.field.doc?.flight.declination_deg || 0; }

  build() {
    this.clock = new ClockPanel(byId("part-clock"), this);
    this.saw = new SawPanel(byId("part-saw"), this);
    this.find = new FindPanel(byId("part-find"), this);
    this.people = new PeoplePanel(byId("part-people"), this);
    this.whoBox = el("div", {});
    this.leadBox = el("div", {});
    this.whereBox = el("div", {});
    this.blocks = el("div", {});
    this.othersBox = el("ul", { class: "log" });
    this.leftBox = el("div", {});
    this.trackBox = el("div", {});
    this.notesBox = el("div", {});
    const left = fold("What is left, and when to stop", false, this.leftBox);
    left.addEventListener("toggle", () => this.lookAtLeft(left.open));
    const way = fold("My way", false, this.trackBox);
    way.addEventListener("toggle", () => this.showWhere());
    byId("part-search").append(this.whoBox, this.leadBox, this.whereBox, fold("My blocks", false, this.blocks), fold("What the others do", false, this.othersBox),
      left, replanBox(this), way, fold("Places and cautions", false, this.notesBox));
    this.sender = new Sender(this, this.docs.get("track"));
  }

  listen() {
    const { field, outbox, follow } = this;
    field.addEventListener("change", () => this.changed());
    field.addEventListener("online", () => { this.state(); this.ahead(); });
    field.addEventListener("other", () => this.otherFlight());
    field.addEventListener("positions", () => this.positions());
    field.addEventListener("chart", () => this.takeChart());
    field.addEventListener("left", () => this.takeLeft());
    for (const from of [field, outbox]) {
      from.addEventListener("out", (e) => this.out(/** @type {CustomEvent} */ (e).detail));
      from.addEventListener("trouble", (e) => say(/** @type {CustomEvent} */ (e).detail, true));
    }
    outbox.addEventListener("change", (e) => (/** @type {CustomEvent} */ (e).detail?.quiet ? this.state() : this.changed()));
    outbox.addEventListener("answer", (e) => this.answered(/** @type {CustomEvent} */ (e).detail));
    outbox.addEventListener("unkept", () => say("This browser could not keep what you said. Keep the page open until it is sent.", true));
    follow.addEventListener("fix", (e) => this.fix(/** @type {CustomEvent} */ (e).detail));
    follow.addEventListener("state", () => this.showWhere());
    this.map.map.on("contextmenu", (/** @type {any} */ e) => this.standAt(e.latlng.lat, e.latlng.lng));
    document.addEventListener("visibilitychange", () => this.seen());
    window.addEventListener("pagehide", () => this.sender?.flush());
    window.addEventListener("online", () => { field.refresh(); outbox.send(); });
    outbox.addEventListener("reach", (e) => field.setOnline(/** @type {CustomEvent} */ (e).detail));
    setInterval(() => {
      if (document.hidden) return;
      this.renewLeft();
      if (outbox.size && outbox.flight) outbox.send();
      else if (!field.online || Date.now() - field.heardAt > 30e3) field.refresh(); // is it still there?
    }, 10000);
  }

  async base() {
    try {
      this.keep("base", await ask("GET", "map"));
    } catch { /* the one that was kept will do */ }
    const b = this.docs.get("base");
    if (b) this.map.base(b);
    this.ahead();
  }

  /** The base map under the plan, for when the laptop is out of reach. */
  async ahead() {
    const b = this.docs.get("base"), of = `${this.planShown} ${b?.url}`;
    if (!b || !this.field.online || this.aheadOf === of) return;
    this.aheadOf = of;
    if (!await fetchAhead(b, this.map.points().map((p) => this.map.at(p)))) this.aheadOf = "";
  }

  /** The laptop serves another flight: what belonged to the one before is put aside. */
  otherFlight() {
    for (const n of [...this.docs.keys()]) if (n !== "notices" && n !== "base") this.docs.delete(n);
    this.searcher = "";
    this.planShown = -1;
    this.shownOnce = false;
    this.sender = new Sender(this, null);
    say("The laptop serves another flight now. What was said of the one before waits until that one is served again.", true);
  }

  /** @param {string} name @param {any} value */
  keep(name, value) {
    this.docs.set(name, value);
    this.store.put("docs", [[name, value]]).catch(() => {});
  }

  /** @param {string} name */
  setSearcher(name) {
    this.searcher = name;
    this.keep("searcher", name);
    this.takeChart();
    this.changed();
  }

  /** Puts something off until the page is looked at again. @param {() => void} f @returns {boolean} whether it did */
  later(f) {
    if (document.hidden) this.unseen.push(f);
    return document.hidden;
  }

  /** The ground, or the plan, is another one. */
  takeChart() {
    const kept = this.field.chart, number = kept?.plan || 0;
    if (!kept || this.later(() => this.takeChart())) return;
    this.chart = this.withLeft(kept.chart);
    this.map.take(this.chart);
    if (this.planShown > 0 && this.planShown !== number) say(`There is a new plan, number ${number}. Stop and look before you walk on.`, true);
    this.planShown = number;
    const ways = this.docs.get("ways " + number) || {}, ticks = new CrewTicks(this.field, ways, (w) => this.keep("ways " + number, w));
    const fix = this.walk?.fix;
    if (this.whoBox) showWho(this, this.whoBox); // with what stands below it: nothing jumps under the thumb
    this.walk = new Walk(kept.chart, this.searcher, /** @type {any} */ (ticks), this.sender?.track || new Track());
    if (fix) this.walk.stand(fix);
    new LeadPanel(/** @type {HTMLElement} */ (this.leadBox), this.walk, kept.chart.declination_deg, {
      done: "Look under What is left whether to go on.", none: number ? (this.searcher ? "The plan has nothing for " + this.searcher + "." : "Say above whom this phone goes with.") : "There is no plan yet. Make one below, or with windfall search." });
    this.walk.addEventListener("move", () => this.moved());
    this.walk.addEventListener("tick", () => this.changed());
    this.notesBox?.replaceChildren(...cautionList(kept.chart), ...placeList(kept.chart, this.map));
    this.drawPlan();
    if (!this.shownOnce) this.map.whole();
    this.shownOnce = true;
    this.ahead();
  }

  /** @param {import("./chart").Chart} chart */
  withLeft(chart) {
    this.map.take(chart);
    return withLeft(chart, this.field.left, this.map.frame);
  }

  takeLeft() {
    if (!this.field.chart || this.later(() => this.takeLeft())) return;
    this.chart = this.withLeft(this.field.chart.chart);
    this.map.take(this.chart);
    if (this.leftBox) showLeft(this, this.leftBox);
  }

  /** Where this phone is, or was set by hand. @returns {{lat: number, lon: number, acc: number} | null} */
  place() {
    const f = this.byHand || this.follow.fix;
    return f ? { lat: +f.lat.toFixed(7), lon: +f.lon.toFixed(7), acc: f.acc } : null;
  }

  /** @param {{lat: number, lon: number}} a @param {{lat: number, lon: number}} b */
  metresTo(a, b) { return distance(this.map.frame.toXY(a.lat, a.lon), this.map.frame.toXY(b.lat, b.lon)); }

  /** @param {number} lat @param {number} lon */
  standAt(lat, lon) {
    this.byHand = { t: Date.now(), lat, lon, acc: 10 };
    this.walk?.stand(this.byHand);
    this.moved();
    this.saw?.show();
    say("You stand here until a position comes. This is not recorded.");
  }

  /** @param {Fix} f */
  fix(f) {
    this.byHand = null;
    const walk = this.walk, first = !this.fixed;
    this.fixed = true;
    if (walk && this.follow.near(this.map.frame.toXY(f.lat, f.lon))) {
      if (this.sender?.take(f, walk.metres)) walk.at(f);
      else walk.stand(f);
    }
    if (first) this.map.follow(true);
    if (document.hidden) return;
    if (this.sender) this.map.extendTrack(this.sender.track.pieces, this.sender.loaded);
    this.showWhere();
    if (first) this.saw?.show();
  }

  moved() {
    const walk = this.walk;
    if (document.hidden || !walk) return;
    if (walk.fix) this.map.drawSelf(walk.fix, courseOf(this.sender?.track.pieces.at(-1) || [], (f) => walk.xy(f)));
    this.map.drawStep(walk.step);
  }

  seen() {
    if (document.hidden) {
      this.sender?.flush();
      return;
    }
    const last = this.sender?.track.last;
    if (last && this.follow.on && Date.now() - last.t > 5000) this.sender?.track.pause("the screen was off");
    for (const f of this.unseen.splice(0)) f();
    this.field.refresh();
    this.outbox.send();
    if (this.sender) this.map.drawTrack(this.sender.track.pieces, this.sender.loaded);
    this.changed();
    this.walk?.dispatchEvent(new Event("move"));
  }

  drawPlan() {
    const walk = this.walk;
    if (!walk) return;
    this.map.drawPlan(this.searcher, (b, l) => this.field.lane(b, l), walk.block);
    this.map.drawStep(walk.step);
    if (this.blocks) showBlocks(this.blocks, walk, (key) => {
      walk.choose(key);
      byId("panel").scrollTop = 0;
    });
  }

  /** @param {string} name */
  opened(name) {
    this.saw?.turnOn(name === "saw");
    if (name === "people") this.field.refresh();
    this.part = name;
    this.changed();
  }

  /** Shows everything anew. */
  changed() {
    if (document.hidden || !this.sender) return;
    const doc = this.field.doc, mine = doc?.me.searcher;
    byId("name").textContent = doc ? doc.flight.id : "";
    if (mine && !this.outbox.of("arrive", "leave").length && mine !== this.searcher) this.setSearcher(mine);
    this.state();
    this.clock?.show();
    this.saw?.show();
    this.find?.show();
    this.people?.show();
    if (this.walk) this.walk.renew();
    this.drawPlan();
    this.positions();
    this.showWhere();
    if (this.whoBox) showWho(this, this.whoBox);
    this.othersBox?.replaceChildren(...others(this));
    if (this.leftBox) showLeft(this, this.leftBox);
    this.renewLeft();
  }

  /** The ground left by itself, whole unless the map follows this phone. @param {boolean} on */
  lookAtLeft(on) {
    this.map.bare = on;
    this.drawPlan();
    const rings = (this.chart?.areas || []).flatMap((/** @type {any} */ a) => a.rings.flat());
    if (on && rings.length && !this.map.follows) this.map.whole(rings);
  }

  /** Where it may lie is on the map from the first; it follows what is said while somebody looks at it. */
  renewLeft() {
    if (!document.hidden && (this.part === "search" || !this.field.left && !this.field.leftAt)) this.field.renewLeft();
  }

  state() {
    if (document.hidden) return;
    const n = this.outbox.size, box = byId("state");
    box.textContent = this.field.online ? (n ? `sending ${n}` : "in range, all sent") : n ? `out of range, ${n} waiting` : "out of range";
    box.className = this.field.online ? "" : "away";
  }

  positions() {
    if (document.hidden) return;
    this.others.clearLayers();
    for (const p of this.field.doc?.people || []) {
      if (p.id === this.field.doc?.me.id || !p.position) continue;
      mark([p.position.lat, p.position.lon], "other", p.name + (p.position.age_s > 120 ? ", " + Math.round(p.position.age_s / 60) + " min ago" : ""), 300).addTo(this.others);
    }
    for (const f of this.said(["find"])) if (f.body?.lat !== undefined) mark([f.body.lat, f.body.lon], "find", "found", 600).addTo(this.others);
  }

  showWhere() {
    const on = this.follow.on, acc = this.follow.fix?.acc;
    byId("fix").textContent = on && acc !== undefined ? `±${Math.round(acc)} m, recording` : "";
    const words = this.follow.why || (on ? "" : window.isSecureContext ? "Press Follow me to be led and to record your way while this page is open. Only this crew sees it." : secureWords);
    if (this.sender && this.trackBox) this.sender.show(this.trackBox);
    if (this.shownWhere === on + words || !this.whereBox) return;
    this.shownWhere = on + words;
    this.whereBox.replaceChildren(...words ? [el("p", { role: "status", class: "where" }, words)] : [],
      ...on ? [] : [el("div", { class: "chips" }, button("Follow me", () => this.follow.start(), { class: "act" }))]);
  }

  /** What was logged of some kinds and is not taken back, what waits here included. @param {string[]} kinds @returns {any[]} */
  said(kinds) {
    const { outbox, field } = this, gone = new Set(outbox.of("withdraw").map((e) => e.of || "#" + e.id));
    const logged = (field.doc?.entries || []).filter((e) => kinds.includes(e.kind) && !e.withdrawn && !gone.has(e.key || "#" + e.id));
    const known = new Set(logged.map((e) => e.key));
    const waiting = outbox.of(...kinds).filter((e) => !known.has(e.key)).map((e) => ({ ...e, by: field.doc?.me.name || "you", says: this.words(e), waiting: true, body: e }));
    return [...logged, ...waiting].sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
  }

  /** @param {any} e */
  words(e) {
    const b = this.field.doc?.buttons.find((x) => x.event === e.event && !!x.heard === !!e.heard);
    return e.kind === "timing" ? (b?.label || e.event) : kindWords[e.kind] || e.kind;
  }

  /** @param {any} e */
  line(e) {
    return el("li", {}, el("span", {}, `${clockWord(Date.parse(e.at))} `, el("b", {}, e.by), ": " + (e.says.startsWith(e.by + ": ") ? e.says.slice(e.by.length + 2) : e.says), e.waiting ? " (not sent yet)" : ""),
      button("Take back", () => this.takeBack(e.key, e.id), { class: "plain", "aria-label": "Take back " + e.says }));
  }

  /** @param {string} [key] @param {number} [id] */
  takeBack(key, id) {
    if (!key || !this.outbox.drop(key)) this.outbox.say("withdraw", key ? { of: key } : { id });
    this.changed();
  }

  /** @param {any} r */
  answered(r) {
    if (r.state === "logged" || r.state === "known") {
      this.sender?.answered(r);
      return;
    }
    if (r.entry?.kind === "position") return; // the next one comes soon
    const n = { key: r.key, message: `${r.state === "conflict" ? "At odds with others" : "Not taken"} (${this.words(r.entry) || r.entry.kind}, ${clockWord(Date.parse(r.entry.at))}): ${r.message || "no reason was given"}.` };
    this.notices.push(n);
    this.keep("notices", this.notices);
    say(n.message, true);
    this.people?.show();
  }

  /** @param {{key: string}} n */
  dismiss(n) {
    this.notices = this.notices.filter((x) => x.key !== n.key);
    this.keep("notices", this.notices);
    this.people?.show();
  }

  /** @param {string} why */
  out(why) {
    byId("alerts").replaceChildren(el("p", { class: "said" }, `${why}. ${count(this.outbox.size, "thing")} said here ${this.outbox.size === 1 ? "is" : "are"} kept. `, el("a", { href: "/join" }, "Come in again")));
  }

  /** @param {number} lat @param {number} lon */
  showPlace(lat, lon) {
    this.map.follow(false);
    this.map.map.setView([lat, lon], 18, { animate: false });
  }
}
