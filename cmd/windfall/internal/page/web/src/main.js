// The page: the flight on a map, and everything that can be changed about it.
import { ask } from "./api.js";
import { button, byId, el, later, say } from "./dom.js";
import { Draft } from "./draft.js";
import { Drawing } from "./draw.js";
import { Files } from "./files.js";
import { makeForm } from "./form.js";
import { addBase, addGrid, addPad, addPoint, addTools, Landing, legend, makeMap } from "./map.js";
import { Saving } from "./save.js";
import { useUnits } from "./units.js";
import { Flyer, WhatIf } from "./whatif.js";
import { Wind } from "./wind.js";

const parts = [["try", "Try"], ["flight", "Flight"], ["ground", "Ground"], ["wind", "Wind"], ["files", "Files"]];

/** The tabs of the parts, by the pattern of WAI-ARIA. */
function tabs() {
  const bar = byId("tabs");
  /** @param {string} name @param {boolean} [focus] */
  const open = (name, focus) => {
    for (const [p] of parts) {
      byId("part-" + p).hidden = p !== name;
      const t = byId("tab-" + p);
      t.setAttribute("aria-selected", String(p === name));
      t.tabIndex = p === name ? 0 : -1;
      if (p === name && focus) t.focus();
    }
  };
  parts.forEach(([name, title], i) => {
    bar.append(el("button", {
      type: "button", id: "tab-" + name, role: "tab", "aria-controls": "part-" + name, onclick: () => open(name),
      onkeydown: (/** @type {KeyboardEvent} */ e) => {
        const by = e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? -1 : 0;
        if (by) open(parts[(i + by + parts.length) % parts.length][0], true);
      },
    }, title));
  });
  open("try");
  return open;
}

/** Light, dark, or as the device has it. */
function looks() {
  const box = /** @type {HTMLSelectElement} */ (byId("look"));
  try {
    box.value = localStorage.getItem("look") || "device";
  } catch { /* no storage: as the device has it */ }
  const turn = () => {
    document.documentElement.dataset.look = box.value;
    try {
      localStorage.setItem("look", box.value);
    } catch { /* no storage */ }
  };
  box.addEventListener("change", turn);
  turn();
}

async function start() {
  looks();
  const map = makeMap(byId("map")), open = tabs();
  const [saved, keys, base] = await Promise.all([ask("GET", "flight"), ask("GET", "keys"), ask("GET", "map")]);
  useUnits(keys.units);
  const draft = new Draft(saved);
  byId("name").textContent = saved.path.split("/").slice(-2).join("/");
  if (saved.pad) map.setView([saved.pad.lat, saved.pad.lon], 15, { animate: false });
  addBase(map, base);
  addGrid(map);

  const landing = new Landing(map);
  const panel = (/** @type {string} */ p) => byId("part-" + p);
  const form = makeForm(draft, keys.groups, panel("flight"));
  const drawing = new Drawing(map, draft, panel("ground"));
  const renew = async () => draft.reload(await ask("GET", "flight"), true);
  const wind = new Wind(draft, keys.groups, panel("wind"), renew);
  /** @type {import("geojson").FeatureCollection | null} */
  let rested = null;
  let seen = false;
  const fault = byId("fault");

  /** @param {import("./types").Fault | undefined} f */
  const wrong = (f) => {
    const placed = [form.fault(f), wind.fault(f), drawing.fault(f)].some(Boolean);
    fault.hidden = !f;
    if (!f) return;
    const tab = (f.field || "").startsWith("wind") ? "wind" : /feature \d/.test(f.message) ? "ground" : "flight";
    fault.replaceChildren((f.field ? f.field + " " : "") + f.message + " ", placed ? button("Show it", () => {
      open(tab);
      const p = /** @type {HTMLElement | null} */ (panel(tab).querySelector(".fault:not([hidden])"));
      p?.scrollIntoView({ block: "center" });
      /** @type {HTMLElement | null | undefined} */ (p?.parentElement?.querySelector("input, select"))?.focus();
    }) : "");
  };
  const flyer = new Flyer(draft, (t, full) => {
    landing.show(t.shapes, rested);
    if (full) rested = t.shapes;
    pad.show(t.pad, t.rail);
    what.show(t, full);
    wind.show(t.wind);
    drawing.warn(t.warnings);
    if (!seen) whole();
    seen = true;
    if (full) spoken();
  }, wrong);
  const what = new WhatIf(draft, panel("try"), { fly: flyer });
  const spoken = later(800, () => {
    const f = flyer.latest?.result.places.find((p) => p.kind === "field");
    byId("spoken").textContent = f ? `${(100 * f.probability).toFixed(1)} percent on our field` : "The map is renewed";
  });
  const pad = addPad(map, {
    movePad: (lat, lon) => draft.set("site.pad", lat.toFixed(6) + ", " + lon.toFixed(6)),
    lean: (lean, toward) => {
      draft.set("rail.toward", toward + " deg", "map");
      draft.set("rail.lean", lean + " deg", "map");
    },
  });
  if (saved.pad) pad.show(saved.pad, { lean_deg: 0, toward_deg: 0 });
  const whole = () => {
    const b = landing.bounds(), p = flyer.latest?.pad || saved.pad;
    if (b && p) map.fitBounds(b.extend([p.lat, p.lon]).pad(0.15), { animate: false });
    else if (p) map.setView([p.lat, p.lon], 15);
  };
  const point = addPoint(map, byId("point"), () => flyer.latest?.id || null);
  addTools(map, whole, () => point.askMiddle());
  map.on("click", (/** @type {any} */ e) => { if (!drawing.busy) point.askAt(e.latlng); });
  byId("map-foot").append(legend());
  byId("part-try").append(legend());
  new Files(draft, panel("files"), renew);
  new Saving(draft, wrong);
  const kept = draft.restore();
  if (kept === "kept") say("Changes that were not saved are here again");
  else if (kept === "newer") say("Changes that were not saved are here again, on a flight that was changed elsewhere since: look them over before you save.", true);
  else flyer.fly();
  new ResizeObserver(() => map.invalidateSize()).observe(byId("map"));
}

start().catch((e) => say("The page cannot start: " + e.message, true));
