// The form: every key of the flight file, each with its unit and its fault.
import { button, el, newId } from "./dom.js";
import { convert, join, split, unitsOf } from "./units.js";

/** @typedef {import("./draft.js").Draft} Draft */
/** @typedef {import("./types").Field} Field */
/** @typedef {import("./types").Group} Group */

/**
 * One field of the form.
 * @param {Draft} draft @param {string} key @param {Field} f
 * @returns {HTMLElement}
 */
export function field(draft, key, f) {
  const id = newId(), box = el("div", { class: "field", "data-key": key });
  const help = f.help ? el("p", { class: "help", id: id + "h" }, f.help) : null;
  const fault = el("p", { class: "fault", id: id + "f", role: "alert", hidden: true });
  /** @param {string} text */
  const put = (text) => {
    if (text.trim() === "") draft.remove(key, key);
    else draft.set(key, f.kind === "pair" ? text.split(",").map((s) => s.trim()) : text.trim(), key);
  };
  const now = draft.get(key);
  const text = Array.isArray(now) ? now.join(", ") : typeof now === "object" && now ? "" : String(now ?? "");
  const described = [help ? id + "h" : "", id + "f"].filter(Boolean).join(" ");
  box.append(el("label", { for: id }, f.label), el("div", { class: "entry" }, ...entry(f, id, text, described, put)));
  if (help) box.append(help);
  box.append(fault);
  return box;
}

/**
 * What a field's value is typed into.
 * @param {Field} f @param {string} id @param {string} text @param {string} described @param {(text: string) => void} put
 * @returns {HTMLElement[]}
 */
function entry(f, id, text, described, put) {
  const common = { id, "aria-describedby": described };
  if (f.choices) {
    const other = text && !f.choices.includes(text) ? [text] : [];
    return [el("select", { ...common, onchange: (/** @type {any} */ e) => put(e.target.value) },
      ...["", ...f.choices, ...other].map((c) => el("option", { value: c, selected: c === text }, c || "left out")))];
  }
  const units = f.kind === "direction" ? ["deg", "mag"] : f.kind === "chance" ? ["%", ""] : unitsOf(f.kind);
  if (units.length === 0) {
    return [el("input", { ...common, value: text, placeholder: f.example ? "such as " + f.example : "", maxLength: 200, autocomplete: "off",
      spellcheck: false, onchange: (/** @type {any} */ e) => put(e.target.value) })];
  }
  const { number, unit } = split(text || f.example || "");
  const given = text !== "";
  const box = el("input", { ...common, inputMode: "decimal", autocomplete: "off", value: given ? number : "", placeholder: given ? "" : number });
  const of = el("select", { "aria-label": "Unit of " + f.label }, ...[...new Set([...units, unit])].map((u) => el("option", { value: u, selected: u === unit }, u || "0 to 1")));
  let last = unit;
  const all = () => {
    const typed = split(box.value);
    if (typed.unit) { // somebody wrote the unit too
      put(box.value);
      return;
    }
    put(join(box.value, of.value));
  };
  box.addEventListener("change", all);
  of.addEventListener("change", () => {
    if (f.kind !== "direction") box.value = f.kind === "chance" ? share(box.value, of.value) : convert(box.value, f.kind, last, of.value);
    last = of.value;
    all();
  });
  return [box, of];
}

/** @param {string} number @param {string} to */
function share(number, to) {
  const v = Number(number);
  return number.trim() === "" || Number.isNaN(v) ? number : String(Number((to === "%" ? v * 100 : v / 100).toPrecision(6)));
}

/**
 * The whole form; wind has a part of the page of its own.
 * @param {Draft} draft @param {Group[]} groups @param {HTMLElement} panel
 */
export function makeForm(draft, groups, panel) {
  /** @type {Set<string>} */
  const open = new Set([groups[0].title]);
  const build = () => {
    panel.replaceChildren(...groups.filter((g) => !g.wind && !g.measured).map((g) => {
      const box = el("details", { class: "group", open: open.has(g.title), ontoggle: (/** @type {any} */ e) => (e.target.open ? open.add(g.title) : open.delete(g.title)) },
        el("summary", {}, g.title), g.help ? el("p", { class: "help" }, g.help) : null);
      box.append(...(g.list ? items(draft, g, g.list) : g.fields.map((f) => field(draft, f.key, f))));
      return box;
    }));
  };
  draft.addEventListener("change", (e) => {
    const by = /** @type {CustomEvent} */ (e).detail;
    if (by && panel.querySelector(`[data-key="${CSS.escape(by)}"]`)) return; // typed here: its field says so already
    const held = /** @type {HTMLElement | null} */ (document.activeElement)?.closest?.("[data-key]")?.getAttribute("data-key");
    build();
    if (held) /** @type {HTMLElement | null} */ (panel.querySelector(`[data-key="${CSS.escape(held)}"] input, [data-key="${CSS.escape(held)}"] select`))?.focus();
  });
  build();
  return {
    /** Shows what is wrong beside its field. @param {import("./types").Fault | undefined} fault */
    fault(fault) { return showFault(panel, fault); },
    /** @param {string} title */
    reveal(title) { open.add(title); build(); },
  };
}

/**
 * The entries of a list, such as the recovery devices.
 * @param {Draft} draft @param {Group} g @param {string} list
 */
function items(draft, g, list) {
  const v = draft.get(list), n = Array.isArray(v) ? v.length : 0, out = [];
  for (let i = 0; i < n; i++) {
    const key = `${list}[${i}]`, name = `${g.item} ${i + 1}`;
    out.push(el("fieldset", {}, el("legend", {}, name),
      ...g.fields.filter((f) => fits(draft, key, f)).map((f) => field(draft, key + "." + f.key, { ...f, label: f.label })),
      button("Take out " + name.toLowerCase(), () => draft.remove(key))));
  }
  out.push(button(g.add || "Add", () => draft.set(`${list}[${n}]`, { .../** @type {any} */ (g.new) })));
  return out;
}

/** Leaves out what cannot be given with what is there. @param {Draft} draft @param {string} key @param {Field} f */
function fits(draft, key, f) {
  const sheds = draft.get(key + ".sheds"), long = typeof sheds === "object";
  if (f.key === "sheds") return !long;
  if (f.key.startsWith("sheds.")) return long || sheds === undefined;
  const kind = draft.text(key + ".device");
  if (kind === "streamer" && f.key === "diameter") return draft.get(key + ".diameter") !== undefined;
  if (kind && kind !== "streamer" && (f.key === "width" || f.key === "length")) return draft.get(key + "." + f.key) !== undefined;
  return true;
}

/**
 * @param {HTMLElement} panel @param {import("./types").Fault | undefined} fault
 * @returns {boolean} whether there was a place for it
 */
export function showFault(panel, fault) {
  for (const p of panel.querySelectorAll(".fault")) /** @type {HTMLElement} */ (p).hidden = true;
  for (const p of panel.querySelectorAll("[aria-invalid]")) p.removeAttribute("aria-invalid");
  for (let key = fault?.field || ""; key; key = key.replace(/(\.[^.[]*|\[\d+\]|^[^.[]*)$/, "")) {
    const box = panel.querySelector(`[data-key="${CSS.escape(key)}"]`), p = /** @type {HTMLElement | null} */ (box?.querySelector(".fault"));
    if (!box || !p) continue;
    p.textContent = fault?.message || "";
    p.hidden = false;
    box.querySelector("input, select")?.setAttribute("aria-invalid", "true");
    const group = box.closest("details");
    if (group) group.open = true;
    return true;
  }
  return false;
}
