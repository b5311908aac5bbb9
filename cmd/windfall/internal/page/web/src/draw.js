// Drawing the field and the ground: corners set by tapping the map, or with the
// keyboard at its middle, moved by dragging or with the arrow keys.
import { L, keys } from "./map.js";
import { button, byId, el, newId, say } from "./dom.js";

/** @typedef {import("geojson").Feature} Feature */
/** @typedef {{which: "field" | "ground", kind: string, shape: "area" | "line" | "point", label: string, say: string, props: Record<string, string>}} Kind */

/** @type {Kind[]} */
const kinds = [
  { which: "field", kind: "field", shape: "area", label: "Field", say: "the ground you have leave to use", props: {} },
  { which: "ground", kind: "cover", shape: "area", label: "Cover", say: "crop, scrub, woodland", props: { cover: "crop" } },
  { which: "ground", kind: "barrier", shape: "line", label: "Wall or stream", say: "cannot be crossed on foot", props: { name: "wall" } },
  { which: "ground", kind: "crossing", shape: "point", label: "Gate or bridge", say: "a way through a wall", props: {} },
  { which: "ground", kind: "no-go", shape: "area", label: "No-go area", say: "must not be entered", props: { name: "no-go area", for: "all" } },
  { which: "ground", kind: "place", shape: "area", label: "Place", say: "whose chance is asked for, such as the crowd", props: { name: "crowd" } },
  { which: "ground", kind: "line", shape: "line", label: "Road or railway", say: "whose chance is asked for", props: { name: "road", width: "10 m" } },
];

const covers = ["short grass", "long grass", "crop", "stubble", "scrub", "woodland", "water"];

/** @param {Kind} k */
const least = (k) => (k.shape === "area" ? 3 : k.shape === "line" ? 2 : 1);

/** @type {Record<string, L.PathOptions>} */
const styles = {
  field: { color: "var(--field)", weight: 4, fill: false },
  cover: { color: "#5B6B2E", weight: 1.5, fillColor: "#8FA05A", fillOpacity: 0.18 },
  barrier: { color: "#C8102E", weight: 5, dashArray: "1 8" },
  "no-go": { color: "#C8102E", weight: 3, fillColor: "#C8102E", fillOpacity: 0.22 },
  place: { color: "var(--ink)", weight: 2, dashArray: "6 6", fill: false },
  line: { color: "var(--ink)", weight: 3, dashArray: "12 4" },
};

/** The drawings of the draft on the map, and the tools that change them. */
export class Drawing {
  /**
   * @param {L.Map} map @param {import("./draft.js").Draft} draft
   * @param {HTMLElement} panel of the page's Ground part
   */
  constructor(map, draft, panel) {
    this.map = map;
    this.draft = draft;
    this.layer = L.layerGroup().addTo(map);
    this.corners = L.layerGroup().addTo(map);
    /** @type {{kind: Kind, at: L.LatLng[], edit: Feature | null} | null} */
    this.open = null;
    this.bar = byId("draw-bar");
    this.list = el("ul", { class: "shapes" });
    this.tools = el("div", { class: "chips", role: "group", "aria-label": "Draw" },
      ...kinds.map((k) => button("Draw: " + k.label, () => this.begin(k), { title: k.say })));
    panel.append(el("p", {}, "Choose what to draw, then tap the map at each corner. The field is the ground you have leave to use."),
      this.tools, this.list);
    map.on("click", (/** @type {L.LeafletMouseEvent} */ e) => { if (this.open) this.add(e.latlng); });
    draft.addEventListener("change", () => this.show());
    this.show();
  }

  get busy() { return this.open !== null; }

  /** @param {Kind} kind @param {Feature} [f] to be changed */
  begin(kind, f) {
    this.open = { kind, at: f ? points(f) : [], edit: f || null };
    const what = kind.label.toLowerCase();
    this.count = el("span", {});
    this.bar.replaceChildren(
      el("p", {}, f ? `Move the corners of the ${what}.` : `Tap the map ${kind.shape === "point" ? "where the " + what + " is" : "at each corner of the " + what}.`, " ", this.count),
      el("div", { class: "chips" },
        button("Finish drawing", () => this.finish(), { class: "act" }),
        button("Corner at the middle", () => this.add(this.map.getCenter())),
        button("Take one back", () => { this.open?.at.pop(); this.edges(); }),
        button("Leave it", () => this.end())));
    document.body.classList.add("drawing");
    this.show();
    this.edges();
    this.bar.querySelector("button")?.focus();
    say(f ? "Moving corners" : "Drawing: " + kind.label);
    byId("map").scrollIntoView({ block: "start" });
  }

  /** @param {L.LatLng} at */
  add(at) {
    if (!this.open) return;
    if (this.open.kind.shape === "point") this.open.at = [];
    this.open.at.push(at);
    this.edges();
    say("Corner " + this.open.at.length);
  }

  /** Draws what is open, with its corners to be moved. */
  edges() {
    this.corners.clearLayers();
    if (!this.open) return;
    const { kind, at } = this.open;
    const style = { color: "var(--pad)", weight: 3, dashArray: "6 4" };
    if (kind.shape === "area") L.polygon(at, { ...style, fillOpacity: 0.1, interactive: false }).addTo(this.corners);
    if (kind.shape === "line") L.polyline(at, { ...style, interactive: false }).addTo(this.corners);
    at.forEach((p, i) => {
      const m = L.marker(p, { draggable: true, title: "Corner " + (i + 1), icon: L.divIcon({ className: "handle corner", html: "<i></i>", iconSize: [44, 44] }), zIndexOffset: 900 });
      m.on("dragend", () => { at[i] = m.getLatLng(); this.edges(); });
      keys(m, (dx, dy) => {
        const q = this.map.latLngToContainerPoint(at[i]);
        at[i] = this.map.containerPointToLatLng([q.x + 4 * dx, q.y + 4 * dy]);
        m.setLatLng(at[i]);
      });
      m.addTo(this.corners);
      m.getElement()?.setAttribute("aria-label", "Corner " + (i + 1) + ", move it with the arrow keys");
    });
    const need = least(kind) - at.length;
    if (this.count) this.count.textContent = at.length + " set" + (need > 0 ? ", " + need + " more needed." : ".");
  }

  finish() {
    if (!this.open) return;
    const { kind, at, edit } = this.open;
    if (at.length < least(kind)) {
      say(`A ${kind.label.toLowerCase()} needs ${least(kind)} ${kind.shape === "point" ? "point" : "corners"}; this one has ${at.length}.`, true);
      return;
    }
    const where = at.map((p) => [round(p.lng), round(p.lat)]);
    /** @type {any} */
    const geometry = kind.shape === "point" ? { type: "Point", coordinates: where[0] }
      : kind.shape === "line" ? { type: "LineString", coordinates: where }
        : { type: "Polygon", coordinates: [[...where, where[0]]] };
    const all = this.features(kind.which);
    const props = edit ? edit.properties : kind.which === "field" ? { name: "field" } : { kind: kind.kind, ...kind.props };
    const made = /** @type {Feature} */ ({ type: "Feature", properties: props, geometry });
    this.end();
    this.put(kind.which, edit ? all.map((f) => (f === edit ? made : f)) : [...all, made]);
    say(kind.label + (edit ? " moved" : " drawn"));
    if (edit || kind.which !== "ground") return;
    /** @type {HTMLElement | null} */ (this.list.querySelector(`[data-shape="ground ${all.length + 1}"] :is(input, select)`))?.focus();
  }

  end() {
    this.open = null;
    this.corners.clearLayers();
    this.bar.replaceChildren();
    document.body.classList.remove("drawing");
    this.show();
  }

  /** @param {"field" | "ground"} which @returns {Feature[]} */
  features(which) { return this.draft.drawn[which]?.features || []; }

  /** @param {"field" | "ground"} which @param {Feature[]} features */
  put(which, features) {
    this.draft.draw(which, features.length ? { ...this.draft.drawn[which], type: "FeatureCollection", features } : null);
  }

  /** Draws all shapes and lists them. */
  show() {
    this.layer.clearLayers();
    /** @type {HTMLElement[]} */
    const rows = [];
    for (const which of /** @type {const} */ (["ground", "field"])) {
      this.features(which).forEach((f, i) => {
        const k = kindOf(which, f);
        if (!this.open || this.open.edit !== f) this.lay(k, f);
        rows.push(this.row(k, f, i));
      });
    }
    const held = document.activeElement?.id;
    if (held && this.list.contains(document.activeElement)) return; // somebody types here
    this.list.replaceChildren(...rows);
  }

  /** @param {Kind} k @param {Feature} f */
  lay(k, f) {
    const shown = L.geoJSON(f, {
      interactive: false, style: styles[k.kind] || styles.place,
      pointToLayer: (_, at) => L.marker(at, { interactive: false, keyboard: false, icon: L.divIcon({ className: "gate", html: "<i></i>", iconSize: [0, 0] }) }),
    }).addTo(this.layer);
    const name = k.kind === "cover" ? f.properties?.cover : k.kind === "field" ? "" : f.properties?.name;
    if (!name || f.geometry.type === "Point") return;
    const words = el("span", {}, String(name));
    const at = f.geometry.type === "LineString" ? points(f)[Math.floor(f.geometry.coordinates.length / 2)] : shown.getBounds().getCenter();
    L.marker(at, { interactive: false, keyboard: false, icon: L.divIcon({ className: "shape-label", html: words, iconSize: [0, 0] }) }).addTo(this.layer);
  }

  /** @param {Kind} k @param {Feature} f @param {number} i */
  row(k, f, i) {
    const id = newId(), row = el("li", { "data-shape": k.which + " " + (i + 1) });
    const props = f.properties || {};
    /** @param {string} key @param {string} value */
    const put = (key, value) => {
      const made = { ...f, properties: { ...props, [key]: value } };
      this.put(k.which, this.features(k.which).map((g) => (g === f ? made : g)));
      this.list.replaceChildren();
      this.show();
    };
    /** @param {string} key @param {string} text */
    const field = (key, text) => el("span", { class: "pair" }, el("label", { for: id + key }, text),
      el("input", { id: id + key, value: String(props[key] ?? ""), maxLength: 80, onchange: (/** @type {any} */ e) => put(key, e.target.value) }));
    row.append(el("b", {}, k.label));
    if (k.kind === "cover") {
      row.append(el("span", { class: "pair" }, el("label", { for: id }, "Cover"), el("select", { id, onchange: (/** @type {any} */ e) => put("cover", e.target.value) },
        ...[...new Set([String(props.cover), ...covers])].map((c) => el("option", { value: c, selected: c === props.cover }, c)))));
    } else if (k.kind !== "crossing") row.append(field("name", "Name"));
    if (k.kind === "no-go") {
      row.append(el("span", { class: "pair" }, el("label", { for: id + "w" }, "For"), el("select", { id: id + "w", onchange: (/** @type {any} */ e) => put("for", e.target.value) },
        ...["all", "walkers", "drones"].map((c) => el("option", { value: c, selected: c === (props.for || "all") }, c)))));
    }
    if (k.kind === "line") row.append(field("width", "Width"));
    const name = String(props.name || props.cover || k.label);
    if (points(f).length) row.append(button("Move", () => this.begin(k, f), { "aria-label": `Move corners of ${name}` }));
    row.append(button("Delete", () => this.put(k.which, this.features(k.which).filter((g) => g !== f)), { "aria-label": `Delete ${name}` }),
      el("p", { class: "fault", role: "alert", hidden: true }));
    return row;
  }

  /** Says of the field what is to be asked about it, beside it. @param {string[]} warnings */
  warn(warnings) {
    const w = warnings.find((t) => t.includes("does not contain the pad"));
    for (const row of this.list.querySelectorAll('[data-shape^="field"]')) {
      row.querySelector(".caution")?.remove();
      if (w) row.append(el("p", { class: "caution", role: "status" }, w.replace(/^.*?: /, "")));
    }
  }

  /** Shows what is wrong with a drawing beside it. @param {import("./types").Fault | undefined} fault */
  fault(fault) {
    for (const p of this.list.querySelectorAll(".fault")) /** @type {HTMLElement} */ (p).hidden = true;
    const m = fault && /feature (\d+): (.*)/.exec(fault.message);
    const file = fault?.file || "";
    if (!m) return false;
    const which = file.endsWith(this.draft.text("site.field")) && this.draft.text("site.field") ? "field" : "ground";
    const p = /** @type {HTMLElement | null} */ (this.list.querySelector(`[data-shape="${which} ${m[1]}"] .fault`));
    if (!p) return false;
    p.textContent = m[2];
    p.hidden = false;
    return true;
  }
}

/** @param {number} x degrees, to 1 cm or so */
function round(x) { return Math.round(x * 1e7) / 1e7; }

/** @param {"field" | "ground"} which @param {Feature} f @returns {Kind} */
function kindOf(which, f) {
  const kind = which === "field" ? "field" : String(f.properties?.kind);
  return kinds.find((k) => k.kind === kind) || { ...kinds[5], label: kind };
}

/** The corners of a shape that can be moved here; none of one with holes or parts. @param {Feature} f @returns {L.LatLng[]} */
function points(f) {
  const g = f.geometry;
  /** @param {import("geojson").Position[]} ps */
  const all = (ps) => ps.map((p) => L.latLng(p[1], p[0]));
  if (g.type === "Point") return all([g.coordinates]);
  if (g.type === "LineString") return all(g.coordinates);
  if (g.type === "Polygon" && g.coordinates.length === 1) return all(g.coordinates[0].slice(0, -1));
  return [];
}
