// What the field's pages have around them: tabs under the thumb, and a look for
// the sun or for the night.
import { button, byId, el } from "../dom.js";

/**
 * Tabs by the pattern of WAI-ARIA; panels are part-NAME.
 * @param {[string, string][]} parts name and title, the first open
 * @param {(name: string) => void} [opened]
 * @returns {(name: string, focus?: boolean) => void} opens one
 */
export function tabs(parts, opened) {
  const bar = byId("tabs");
  const open = (/** @type {string} */ name, /** @type {boolean} */ focus = false) => {
    for (const [p] of parts) {
      byId("part-" + p).hidden = p !== name;
      const t = byId("tab-" + p);
      t.setAttribute("aria-selected", String(p === name));
      t.tabIndex = p === name ? 0 : -1;
      if (p === name && focus) t.focus();
    }
    byId("panel").scrollTop = 0;
    document.body.dataset.part = name;
    opened?.(name);
  };
  parts.forEach(([name, title], i) => bar.append(el("button", {
    type: "button", id: "tab-" + name, role: "tab", "aria-controls": "part-" + name, onclick: () => open(name),
    onkeydown: (/** @type {KeyboardEvent} */ e) => {
      const by = e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? -1 : 0;
      if (by) open(parts[(i + by + parts.length) % parts.length][0], true);
    },
  }, title)));
  open(parts[0][0]);
  return open;
}

/** A button that turns the page for the night or the sun; at first it is as the device has it. */
export function looks() {
  const root = document.documentElement, device = window.matchMedia("(prefers-color-scheme: dark)");
  const b = button("", () => {
    root.dataset.look = dark() ? "light" : "dark";
    try {
      localStorage.setItem("look", root.dataset.look);
    } catch { /* no storage */ }
    name();
  }, { class: "look-switch" });
  const dark = () => root.dataset.look === "dark" || (root.dataset.look !== "light" && device.matches);
  const name = () => { b.textContent = dark() ? "Day" : "Night"; };
  try {
    root.dataset.look = localStorage.getItem("look") || "device";
  } catch { /* no storage */ }
  device.addEventListener("change", name);
  name();
  byId("look").append(b);
}

/** A details element. @param {string} title @param {boolean} open @param {...(Node | string)} kids */
export function fold(title, open, ...kids) {
  return el("details", { class: "group", open }, el("summary", {}, title), ...kids);
}
