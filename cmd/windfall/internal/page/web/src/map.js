// The map: grid, scale and north, the landing areas, the pad and the rail.
import L from "leaflet";
import { ask, aborted } from "./api.js";
import { button, el, say } from "./dom.js";
import { bearing } from "./units.js";

export const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;

// The violets of landing.png, from the likeliest ground outward (geo/ink).
const inks = [
  { p: 0.95, fill: "#EEDDF9", ink: "var(--area-95)", dash: "2 6", width: 2 },
  { p: 0.9, fill: "#DCC0F2", ink: "var(--area-90)", dash: "8 5", width: 2.5 },
  { p: 0.75, fill: "#B582DF", ink: "var(--area-75)", dash: "14 4", width: 2.5 },
  { p: 0.5, fill: "#8350B5", ink: "var(--area-50)", dash: "", width: 3 },
];

/**
 * @param {HTMLElement} box
 * @returns {L.Map}
 */
export function makeMap(box) {
  const map = L.map(box, {
    zoomControl: false, zoomAnimation: !calm, fadeAnimation: !calm, markerZoomAnimation: !calm, inertia: !calm,
    zoomSnap: 0.5, maxZoom: 21, attributionControl: false, keyboardPanDelta: 60,
  });
  L.control.attribution({ prefix: false }).addTo(map);
  L.control.scale({ imperial: true, maxWidth: 140 }).addTo(map);
  map.createPane("under").style.zIndex = "350";
  map.createPane("faint").style.zIndex = "390";
  map.setView([0, 0], 15);
  return map;
}

/**
 * The buttons at the map's edge and the arrow to the north.
 * @param {L.Map} map @param {() => void} whole shows everything
 * @param {() => void} chance tells the chance at the middle of the map
 */
export function addTools(map, whole, chance) {
  const north = el("div", { class: "north", role: "img", "aria-label": "North is up" }, el("span", {}, "N"));
  const bar = el("div", { class: "map-tools" },
    button("+", () => map.zoomIn(), { "aria-label": "Closer" }),
    button("−", () => map.zoomOut(), { "aria-label": "Farther" }),
    button("All", whole, { "aria-label": "All of the flight" }),
    button("%", chance, { "aria-label": "Chance at the middle of the map", title: "Chance at the middle of the map" }), north);
  const Tools = L.Control.extend({ onAdd: () => bar });
  L.DomEvent.disableClickPropagation(bar);
  new Tools({ position: "topright" }).addTo(map);
}

/**
 * The base map that the person at the laptop chose; none by default.
 * @param {L.Map} map @param {import("./types").BaseMap} base
 */
export function addBase(map, base) {
  const text = escaped(base.attribution || "");
  if (base.kind === "tiles" && base.url) {
    L.tileLayer(base.url, { minNativeZoom: base.min_zoom, maxNativeZoom: base.max_zoom, maxZoom: 21, attribution: text }).addTo(map);
  } else if (base.kind === "image" && base.url && base.bounds) {
    L.imageOverlay(base.url, base.bounds, { pane: "under", attribution: text, alt: "" }).addTo(map);
  }
}

/** @param {string} text */
function escaped(text) { return text.replace(/[&<>"']/g, (c) => "&#" + c.charCodeAt(0) + ";"); }

/**
 * Lines of the country's grid, fetched for what is on view.
 * @param {L.Map} map
 */
export function addGrid(map) {
  const lines = L.layerGroup().addTo(map);
  /** @type {AbortController | null} */
  let before = null;
  const renew = async () => {
    const b = map.getBounds();
    before?.abort();
    before = new AbortController();
    try {
      const q = `grid?west=${b.getWest().toFixed(6)}&south=${b.getSouth().toFixed(6)}&east=${b.getEast().toFixed(6)}&north=${b.getNorth().toFixed(6)}`;
      const grid = await ask("GET", q, undefined, before.signal);
      lines.clearLayers();
      for (const g of grid.lines) {
        L.polyline(g.at, { pane: "under", color: "var(--grid)", weight: g.bold ? 1.6 : 0.8, interactive: false }).addTo(lines);
        const end = crossing(g.at, g.axis === "northing" ? 1 : 0, g.axis === "northing" ? b.getWest() : b.getSouth());
        if (end) L.marker(end, { pane: "under", interactive: false, keyboard: false, icon: L.divIcon({ className: "grid-label " + g.axis, html: escaped(g.label), iconSize: [0, 0] }) }).addTo(lines);
      }
      map.attributionControl.setPrefix(grid.name ? escaped(grid.name + ", lines every " + grid.step) : false);
    } catch (e) {
      if (!aborted(e)) lines.clearLayers();
    }
  };
  map.on("moveend", renew);
}

/**
 * Where a line of points crosses a meridian (k = 1) or a parallel (k = 0).
 * @param {[number, number][]} line @param {0 | 1} k @param {number} v
 * @returns {[number, number] | null}
 */
function crossing(line, k, v) {
  for (let i = 1; i < line.length; i++) {
    const a = line[i - 1], b = line[i];
    if (a[k] > v === b[k] > v) continue;
    const t = (v - a[k]) / (b[k] - a[k]);
    return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
  }
  return null;
}

/** The landing areas of a try, with those of the one before behind. */
export class Landing {
  /** @param {L.Map} map */
  constructor(map) {
    this.now = L.layerGroup().addTo(map);
    this.former = L.layerGroup().addTo(map);
    /** @type {import("geojson").FeatureCollection | null} */
    this.shapes = null;
  }

  /**
   * @param {import("geojson").FeatureCollection} shapes
   * @param {import("geojson").FeatureCollection | null} former drawn faintly behind
   */
  show(shapes, former) {
    this.shapes = shapes;
    this.now.clearLayers();
    this.former.clearLayers();
    if (former) {
      for (const f of former.features.filter((f) => f.properties?.kind === "area" && f.properties.probability === 0.9)) {
        L.geoJSON(f, { pane: "faint", interactive: false, style: { color: "var(--former)", weight: 2, dashArray: "3 7", fill: false } }).addTo(this.former);
      }
    }
    for (const i of inks) {
      for (const f of shapes.features.filter((f) => f.properties?.kind === "area" && f.properties.probability === i.p)) {
        L.geoJSON(f, { interactive: false, style: { color: i.ink, weight: i.width, dashArray: i.dash, fillColor: i.fill, fillOpacity: 0.5 } }).addTo(this.now);
      }
    }
    for (const f of shapes.features) {
      const k = f.properties?.kind;
      if (f.geometry.type !== "Point" || (k !== "nominal" && k !== "mean")) continue;
      const [lon, lat] = f.geometry.coordinates;
      const name = k === "nominal" ? "as designed" : "middle";
      L.marker([lat, lon], { interactive: false, keyboard: false, icon: L.divIcon({ className: "spot " + k, html: `<i></i><span>${name}</span>`, iconSize: [0, 0] }) }).addTo(this.now);
    }
  }

  bounds() {
    return this.shapes ? L.geoJSON(/** @type {any} */ ({ type: "FeatureCollection", features: this.shapes.features.filter((f) => f.properties?.kind === "area") })).getBounds() : null;
  }
}

/** What the colours mean. */
export function legend() {
  return el("ul", { class: "legend", "aria-label": "Areas on the map" },
    ...inks.slice().reverse().map((i) => {
      const mark = el("i", {});
      mark.style.background = i.fill;
      mark.style.border = "3px " + (i.dash ? "dashed " : "solid ") + i.ink;
      return el("li", {}, mark, Math.round(100 * i.p) + " % in");
    }));
}

const leanAt0 = 46, pixelsADegree = 7, mostLean = 30;

/**
 * The pad and the rail's lean, to be dragged or moved with the arrow keys.
 * @param {L.Map} map
 * @param {{movePad: (lat: number, lon: number) => void, lean: (lean: number, toward: number) => void}} tell
 */
export function addPad(map, tell) {
  const pad = L.marker([0, 0], { draggable: true, title: "Pad", icon: L.divIcon({ className: "handle pad", html: "<i></i>", iconSize: [44, 44] }), zIndexOffset: 500 });
  const tip = L.marker([0, 0], { draggable: true, title: "Rail", icon: L.divIcon({ className: "handle rail", html: "<i></i>", iconSize: [44, 44] }), zIndexOffset: 600 });
  const shaft = L.polyline([], { color: "var(--pad)", weight: 4, interactive: false });
  let lean = 0, toward = 0, held = false;
  const place = () => {
    const p = map.latLngToContainerPoint(pad.getLatLng()), r = leanAt0 + lean * pixelsADegree, a = (toward * Math.PI) / 180;
    tip.setLatLng(map.containerPointToLatLng([p.x + r * Math.sin(a), p.y - r * Math.cos(a)]));
    shaft.setLatLngs([pad.getLatLng(), tip.getLatLng()]);
    label(tip, `Rail: leans ${lean} degrees toward ${bearing(toward)}. Arrow keys: left and right turn it, up and down lean it`);
  };
  /** @param {boolean} still turning */
  const turned = (still) => {
    const p = map.latLngToContainerPoint(pad.getLatLng()), t = map.latLngToContainerPoint(tip.getLatLng());
    const dx = t.x - p.x, dy = t.y - p.y;
    lean = Math.round(2 * Math.min(mostLean, Math.max(0, (Math.hypot(dx, dy) - leanAt0) / pixelsADegree))) / 2;
    toward = Math.round(((Math.atan2(dx, -dy) * 180) / Math.PI + 360) % 360) % 360;
    shaft.setLatLngs([pad.getLatLng(), tip.getLatLng()]);
    if (!still) place();
    tell.lean(lean, toward);
  };
  pad.on("drag", place);
  pad.on("dragstart", () => { held = true; });
  pad.on("dragend", () => { held = false; const p = pad.getLatLng(); tell.movePad(p.lat, p.lng); });
  tip.on("dragstart", () => { held = true; });
  tip.on("drag", () => turned(true));
  tip.on("dragend", () => { held = false; turned(false); });
  map.on("zoomend viewreset", place);
  keys(pad, (dx, dy) => {
    const p = map.latLngToContainerPoint(pad.getLatLng()), to = map.containerPointToLatLng([p.x + 4 * dx, p.y + 4 * dy]);
    pad.setLatLng(to);
    place();
    tell.movePad(to.lat, to.lng);
  });
  keys(tip, (dx, dy) => {
    toward = (toward + 5 * dx + 360) % 360;
    lean = Math.min(mostLean, Math.max(0, lean - 0.5 * dy));
    place();
    tell.lean(lean, toward);
  });
  return {
    /** @param {{lat: number, lon: number}} at @param {{lean_deg: number, toward_deg: number}} rail */
    show(at, rail) {
      if (held) return;
      const first = !map.hasLayer(pad);
      pad.setLatLng([at.lat, at.lon]);
      lean = Math.round(10 * rail.lean_deg) / 10;
      toward = rail.toward_deg;
      if (first) {
        shaft.addTo(map);
        pad.addTo(map);
        tip.addTo(map);
        label(pad, "Pad. Drag it, or move it with the arrow keys");
      }
      place();
    },
  };
}

/** @param {L.Marker} m @param {string} text */
function label(m, text) {
  const e = m.getElement();
  e?.setAttribute("aria-label", text);
  e?.setAttribute("role", "button");
}

/**
 * Lets a marker be moved with the arrow keys.
 * @param {L.Marker} m @param {(dx: number, dy: number) => void} move
 */
export function keys(m, move) {
  const by = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] });
  m.on("add", () => m.getElement()?.addEventListener("keydown", (e) => {
    const d = by[e.key];
    if (!d) return;
    e.preventDefault();
    e.stopPropagation();
    move(d[0], d[1]);
  }));
}

/**
 * The chance at a point: what a tap on the map asks.
 * @param {L.Map} map @param {HTMLElement} box @param {() => string | null} tryId
 */
export function addPoint(map, box, tryId) {
  const mark = L.circleMarker([0, 0], { radius: 9, color: "var(--pad)", weight: 4, fill: false, interactive: false });
  const close = () => {
    mark.remove();
    box.replaceChildren();
  };
  /** @param {L.LatLng} at */
  const askAt = async (at) => {
    const id = tryId();
    if (!id) return;
    mark.setLatLng(at).addTo(map);
    try {
      const p = await ask("GET", `tries/${id}/point?lat=${at.lat.toFixed(7)}&lon=${at.lng.toFixed(7)}`);
      box.replaceChildren(el("p", {}, el("b", {}, p.grid), " ", el("span", { class: "soft" }, p.degrees)),
        el("p", {}, `${Math.round(p.distance_m)} m from the pad on bearing ${bearing(p.bearing_deg)}. `,
          `${p.probability === 0 ? "None of the runs" : (100 * p.probability).toFixed(1) + " % ± " + (100 * p.se).toFixed(1)} within 50 m; `,
          p.level >= 0.995 ? "beyond nearly all of the map." : `on the edge of the ${Math.round(100 * p.level)} % area.`),
        button("Close", close, { class: "plain" }));
    } catch (e) {
      say(String(/** @type {Error} */ (e).message), true);
    }
  };
  return { askAt, askMiddle: () => askAt(map.getCenter()), close };
}

export { L };
