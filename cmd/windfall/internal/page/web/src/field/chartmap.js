// A chart on a map without a network: ground, blocks and lanes in vectors, and
// above them what moves.
import L from "leaflet";
import { button, el } from "../dom.js";
import { addBase, calm } from "../map.js";
import { frameOf } from "./frame.js";

/** @typedef {import("./chart").Chart} Chart */
/** @typedef {import("./frame.js").XY} XY */
/** @typedef {[number, number]} LatLng */

// The searchers' colours and the violets of the maps (geo/ink).
const colours = ["#FFD23F", "#2D7DF6", "#C2247A", "#5EEAD4", "#FF8C42", "#B9A6FF"];
const fills = /** @type {[number, string][]} */ ([[0.95, "#EEDDF9"], [0.9, "#DCC0F2"], [0.75, "#B582DF"], [0.5, "#8350B5"]]);

/** @param {number} n from 1 */
export function colourOf(n) { return colours[(n - 1) % colours.length]; }

/** @param {string} text */
function plain(text) { return text.replace(/[&<>"']/g, (c) => "&#" + c.charCodeAt(0) + ";"); }

/** @param {LatLng} at @param {string} kind @param {string} text @param {number} [z] */
export function mark(at, kind, text, z) {
  return L.marker(at, { interactive: false, keyboard: false, zIndexOffset: z || 0, icon: L.divIcon({ className: "fm " + kind, html: `<i></i>${text ? `<span>${plain(text)}</span>` : ""}`, iconSize: [0, 0] }) });
}

export class ChartMap {
  /** @param {HTMLElement} box @param {Chart} chart */
  constructor(box, chart) {
    this.map = L.map(box, {
      zoomControl: false, attributionControl: false, zoomSnap: 0.5, maxZoom: 21, zoomAnimation: !calm, fadeAnimation: !calm,
      markerZoomAnimation: !calm, inertia: !calm, keyboardPanDelta: 60,
    });
    this.frame = frameOf(chart.pad);
    L.control.scale({ imperial: true, maxWidth: 110 }).addTo(this.map);
    this.map.createPane("under").style.zIndex = "350";
    this.map.createPane("covers").style.zIndex = "355";
    this.map.createPane("chance").style.zIndex = "360";
    this.map.createPane("ground").style.zIndex = "380";
    this.ground = L.layerGroup().addTo(this.map);
    this.plan = L.layerGroup().addTo(this.map);
    this.now = L.layerGroup().addTo(this.map);
    this.walk = L.layerGroup().addTo(this.map);
    this.others = L.layerGroup().addTo(this.map);
    this.self = L.layerGroup().addTo(this.map);
    this.follows = false;
    this.bare = false; // without the plan, so that the ground left is seen
    /** @type {XY[] | null} what the map shows whole, until a hand moves it */
    this.shown = null;
    this.map.on("zoomend", () => box.classList.toggle("far", this.map.getZoom() < 15.9));
    this.map.on("dragstart", () => { this.shown = null; this.follow(false); });
    this.tools();
    this.take(chart);
    new ResizeObserver(() => this.fit()).observe(box);
  }

  /** The flier's own map under all, and whose it is. @param {import("../types").BaseMap} base */
  base(base) {
    addBase(this.map, base);
    if (base.attribution && base.kind !== "none") L.control.attribution({ prefix: false }).addTo(this.map);
  }

  /** The map's box has another size: what was in the middle stays there. */
  fit() {
    this.map.invalidateSize({ pan: false, animate: false });
    if (this.follows && this.where) this.map.panTo(this.where, { animate: false });
    else if (this.shown) this.whole(this.shown);
  }

  /** @param {Chart} chart */
  take(chart) {
    const first = !this.chart;
    this.chart = chart;
    this.frame = frameOf(chart.pad);
    if (first) this.map.setView([chart.pad.lat, chart.pad.lon], 15, { animate: false });
    this.drawGround();
  }

  /** @param {XY} p @returns {LatLng} */
  at(p) { return this.frame.toLatLng(p); }

  /** @param {XY[]} line */
  line(line) { return line.map((p) => this.at(p)); }

  tools() {
    this.meButton = button("Me", () => this.follow(!this.follows), { "aria-pressed": "false", title: "Keep me in the middle" });
    const bar = el("div", { class: "map-tools" },
      button("+", () => this.zoom(1), { "aria-label": "Closer" }), button("−", () => this.zoom(-1), { "aria-label": "Farther" }),
      button("All", () => this.whole(), { "aria-label": "All of the plan" }), this.meButton,
      el("div", { class: "north", role: "img", "aria-label": "North is up" }, el("span", {}, "N")));
    const Tools = L.Control.extend({ onAdd: () => bar });
    L.DomEvent.disableClickPropagation(bar);
    new Tools({ position: "topright" }).addTo(this.map);
  }

  /** @param {number} by */
  zoom(by) {
    this.shown = null;
    if (by > 0) this.map.zoomIn();
    else this.map.zoomOut();
  }

  /** @param {boolean} on */
  follow(on) {
    this.follows = on;
    this.meButton?.setAttribute("aria-pressed", String(on));
    if (on) this.shown = null;
    if (on && this.where) this.map.setView(this.where, Math.max(this.map.getZoom(), 17), { animate: false });
  }

  /** Corners of all that matters: the plan, or else where it may lie. @returns {XY[]} */
  points() {
    const c = /** @type {Chart} */ (this.chart);
    const plan = (c.searchers || []).flatMap((s) => s.stages.flatMap((g) => g.path));
    return [[0, 0], ...plan.length ? plan : (c.areas.length ? c.areas.filter((a) => a.probability <= 0.91) : c.places || []).flatMap((a) => a.rings.flat())];
  }

  /** Shows everything, or what is given. @param {XY[]} [points] */
  whole(points) {
    this.follow(false);
    const all = points || this.points();
    this.shown = all;
    this.map.invalidateSize({ pan: false, animate: false });
    this.map.fitBounds(L.latLngBounds(all.map((p) => this.at(p))), { padding: [18, 18], maxZoom: 17, animate: false });
  }

  drawGround() {
    const c = /** @type {Chart} */ (this.chart), g = this.ground.clearLayers();
    const zone = (/** @type {XY[][]} */ rings, /** @type {L.PathOptions} */ style) => L.polygon(rings.map((r) => this.line(r)), { pane: "ground", interactive: false, ...style }).addTo(g);
    const middle = (/** @type {XY[][]} */ rings) => L.latLngBounds(this.line(rings[0] || [[0, 0]])).getCenter();
    for (const z of c.covers || []) zone(z.rings, { pane: "covers", color: "#5B6B2E", weight: 1, fillColor: "#8FA05A", fillOpacity: 0.2 });
    for (const [p, fill] of fills) for (const a of c.areas.filter((x) => x.probability === p)) zone(a.rings, { stroke: p !== 0.95, color: c.picture ? "var(--area-75)" : "#60348c", weight: p === 0.5 ? 2 : 1, fill: !c.picture, fillColor: fill, fillOpacity: 0.5 });
    if (c.picture) L.imageOverlay(c.picture.url, c.picture.bounds, { pane: "chance", interactive: false, alt: "The ground left: the darker the violet, by night the lighter, the likelier" }).addTo(g);
    for (const l of c.covered || []) L.polyline(this.line(l.path), { pane: "ground", interactive: false, color: "#6B7280", weight: 4, opacity: 0.5 }).addTo(g);
    for (const z of c.places || []) {
      zone(z.rings, { color: "var(--field)", weight: 3, fill: false });
      mark([middle(z.rings).lat, middle(z.rings).lng], "name", z.name).addTo(g);
    }
    for (const z of c.no_go || []) {
      zone(z.rings, { color: "#C8102E", weight: 3, fillColor: "#C8102E", fillOpacity: 0.22, dashArray: z.for === "drones" ? "8 6" : undefined });
      mark([middle(z.rings).lat, middle(z.rings).lng], "name keep-out", (z.name || "no-go") + (z.for && z.for !== "all" ? " (" + z.for + ")" : "")).addTo(g);
    }
    for (const b of c.barriers || []) {
      L.polyline(this.line(b.path), { pane: "ground", interactive: false, color: "#C8102E", weight: 5, dashArray: "1 8" }).addTo(g);
      if (b.name) mark(this.at(b.path[Math.floor(b.path.length / 2)]), "name", b.name).addTo(g);
    }
    for (const s of c.sightings || []) L.polyline(this.line([s.from, s.to]), { pane: "ground", interactive: false, color: "#0FA3A3", weight: 2 }).addTo(g);
    for (const s of c.crossings || []) mark(this.at(s.at), "gate", s.name).addTo(g);
    for (const s of c.parts || []) mark(this.at(s.at), "part", s.name).addTo(g);
    mark([c.pad.lat, c.pad.lon], "pad", "pad").addTo(g);
    (c.spots || []).forEach((s, i) => mark(this.at(s.at), "spot", "likely " + (i + 1)).addTo(g));
  }

  /**
   * Draws the plan as one searcher sees it: their own blocks strong, others' faint.
   * @param {string} who "": everybody's alike
   * @param {(block: string, lane: number) => "done" | "skipped" | undefined} tick of their lanes
   * @param {string} now the block that is walked
   */
  drawPlan(who, tick, now) {
    const c = /** @type {Chart} */ (this.chart), g = this.plan.clearLayers();
    if (this.bare) return;
    for (const s of c.searchers || []) {
      const named = who !== "" && s.name === who;
      const mine = !who || s.name === who, colour = colourOf(s.n);
      for (const st of s.stages) {
        if (!st.block) {
          if (mine) L.polyline(this.line(st.path), { interactive: false, color: "var(--ink)", weight: 1.5, dashArray: "2 6" }).addTo(g);
          continue;
        }
        if (st.ground) L.polygon(this.line(st.ground), { interactive: false, color: mine ? "var(--ink)" : colour, weight: mine ? 1.2 : 1.5, fillColor: colour, fillOpacity: mine ? 0.16 : 0.07, dashArray: mine ? undefined : "4 5" }).addTo(g);
        if (mine && st.block !== now) this.drawLanes(g, st, colour, who ? tick : () => undefined, false);
        const at = st.lanes?.[0]?.[0] || st.path[0];
        mark(this.at(at), named || !who && st === s.stages.find((x) => x.block) ? "begin" : "begin faint", st.block, mine ? 400 : 0).addTo(g);
      }
    }
    for (const s of c.searchers || []) for (const st of s.stages) if (st.block === now && s.name === who) this.drawLanes(g, st, colourOf(s.n), tick, true);
  }

  /** @param {L.LayerGroup} g @param {import("./chart").Stage} st @param {string} colour @param {(block: string, lane: number) => "done" | "skipped" | undefined} tick @param {boolean} strong */
  drawLanes(g, st, colour, tick, strong) {
    (st.lanes || []).forEach((lane, i) => {
      const state = tick(st.block || "", i + 1), line = this.line(lane);
      if (!state && strong) L.polyline(line, { interactive: false, color: "var(--casing)", weight: 4.5, opacity: 0.75 }).addTo(g);
      L.polyline(line, { interactive: false, color: state === "done" ? "var(--done)" : colour, weight: state === "done" ? 5 : 2.5, opacity: strong ? 1 : 0.6, dashArray: state === "skipped" ? "2 8" : undefined }).addTo(g);
    });
  }

  /** The step that is walked now. @param {import("./lead.js").Step | null} step */
  drawStep(step) {
    const g = this.now.clearLayers();
    if (!step) return;
    const line = this.line(step.line);
    L.polyline(line, { interactive: false, color: "var(--casing)", weight: 9 }).addTo(g);
    L.polyline(line, { interactive: false, color: "var(--act)", weight: 5 }).addTo(g);
    mark(line[line.length - 1], "goal", "").addTo(g);
  }

  /** @param {import("./chart").Fix} fix @param {number | null} course degrees */
  drawSelf(fix, course) {
    /** @type {LatLng} */
    this.where = [fix.lat, fix.lon];
    const g = this.self.clearLayers();
    L.circle(this.where, { radius: fix.acc, interactive: false, color: "var(--act)", weight: 1, fillOpacity: 0.12 }).addTo(g);
    const m = mark(this.where, "me" + (course === null ? "" : " moving"), "", 900).addTo(g), i = m.getElement()?.querySelector("i");
    if (i && course !== null) i.style.transform = `rotate(${course}deg)`;
    if (this.follows) this.map.panTo(this.where, { animate: false });
  }

  /** The recorded way, and one loaded from elsewhere. @param {import("./chart").Fix[][]} pieces @param {import("./chart").Fix[][]} [loaded] */
  drawTrack(pieces, loaded) {
    this.walk.clearLayers();
    const line = (/** @type {import("./chart").Fix[]} */ p, /** @type {string} */ color) => L.polyline(p.map((f) => /** @type {LatLng} */ ([f.lat, f.lon])), { interactive: false, color, weight: 3, opacity: 0.9 }).addTo(this.walk);
    for (const p of loaded || []) line(p, "var(--soft)");
    this.trail = pieces.map((p) => line(p, "var(--track)")).at(-1);
    this.drawn = pieces.length;
  }

  /** The next fix of the way. @param {import("./chart").Fix[][]} pieces @param {import("./chart").Fix[][]} [loaded] */
  extendTrack(pieces, loaded) {
    const f = pieces.at(-1)?.at(-1);
    if (!f || this.drawn !== pieces.length || !this.trail) this.drawTrack(pieces, loaded);
    else this.trail.addLatLng([f.lat, f.lon]);
  }
}

export { L };
