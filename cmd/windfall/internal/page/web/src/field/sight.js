// A line of sight on the map that is turned by its far end.
import { keys } from "../map.js";
import { L, mark } from "./chartmap.js";
import { bearingOf, norm, polar } from "./frame.js";

export class SightLine {
  /** @param {import("./chartmap.js").ChartMap} chart @param {(deg: number) => void} turned */
  constructor(chart, turned) {
    this.chart = chart;
    this.turned = turned;
    this.layer = L.layerGroup().addTo(chart.map);
    this.handle = L.marker([0, 0], { draggable: true, icon: L.divIcon({ className: "handle sight", html: "<i></i>", iconSize: [48, 48] }), zIndexOffset: 950 });
    this.handle.on("drag", () => {
      if (!this.from) return;
      const p = this.handle.getLatLng(), f = chart.frame;
      this.draw(bearingOf(this.from, f.toXY(p.lat, p.lng)), true);
      turned(this.deg);
    });
    this.handle.on("dragend", () => this.draw(this.deg));
    keys(this.handle, (dx) => {
      this.draw(norm(this.deg + dx));
      turned(this.deg);
    });
    this.deg = 0;
  }

  /** @param {import("./frame.js").XY | null} from null: off the map */
  stand(from) {
    this.from = from;
    this.draw(this.deg);
  }

  /** @param {number} deg true @param {boolean} [held] the handle is under a finger */
  draw(deg, held) {
    this.deg = deg;
    this.layer.clearLayers();
    if (!this.from) {
      this.handle.remove();
      return;
    }
    const size = this.chart.map.getSize(), m = 0.3 * Math.min(size.x, size.y) * metresAPixel(this.chart.map);
    const far = this.chart.line([this.from, polar(this.from, 5000, deg)]);
    L.polyline(far, { interactive: false, color: "var(--casing)", weight: 7 }).addTo(this.layer);
    L.polyline(far, { interactive: false, color: "#5EEAD4", weight: 4 }).addTo(this.layer);
    mark(far[0], "stand", "", 900).addTo(this.layer);
    if (held) return;
    this.handle.setLatLng(this.chart.at(polar(this.from, m, deg)));
    if (!this.chart.map.hasLayer(this.handle)) {
      this.handle.addTo(this.chart.map);
      const e = this.handle.getElement();
      e?.setAttribute("role", "button");
      e?.setAttribute("aria-label", "Line of sight: drag it, or turn it with the arrow keys left and right");
    }
  }
}

/** @param {L.Map} map */
function metresAPixel(map) {
  const c = map.getCenter(), p = map.latLngToContainerPoint(c);
  return c.distanceTo(map.containerPointToLatLng([p.x + 100, p.y])) / 100;
}

/** Shares of the map by a collection's areas. @param {L.LayerGroup} g @param {any} shapes @param {boolean} faint before */
export function drawShown(g, shapes, faint) {
  for (const f of shapes?.features || []) {
    if (f.properties.kind !== "area" || ![0.5, 0.9].includes(f.properties.probability)) continue;
    L.geoJSON(f, { interactive: false, style: faint ? { color: "var(--ink)", weight: 2, dashArray: "4 6", fill: false }
      : { color: "#0FA3A3", weight: f.properties.probability === 0.5 ? 4 : 2.5, fillColor: "#0FA3A3", fillOpacity: 0.15 } }).addTo(g);
  }
}

