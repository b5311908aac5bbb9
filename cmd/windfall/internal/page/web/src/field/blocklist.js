// A searcher's blocks as a list, with a button a lane to tick it by hand.
import { button, el } from "../dom.js";
import { count } from "./words.js";
import { colourOf } from "./chartmap.js";

/**
 * @param {HTMLElement} box @param {import("./walk.js").Walk} walk
 * @param {(key: string) => void} leadTo
 */
export function showBlocks(box, walk, leadTo) {
  const s = walk.searcher;
  if (!s) {
    box.replaceChildren(el("p", {}, "Nothing is planned for this name."));
    return;
  }
  const dot = el("i", { class: "swatch" });
  dot.style.background = colourOf(s.n);
  const rows = s.stages.map((st) => {
    const later = st.later ? el("p", { class: "caution" }, st.later) : null;
    if (!st.block) return el("li", { class: "way" }, later, `${Math.round(st.start_min)} min: `, st.text || "way");
    const t = walk.tally(st.block), first = walk.steps.find((x) => x.block === st.block && !walk.ticks.of(x.key));
    return el("li", { class: "block" }, later,
      el("h3", {}, `${st.block}: ${t.done} of ${count(t.all, st.rectangle ? "course" : "lane")} walked`),
      el("p", {}, st.text), el("p", { class: "soft" }, `${Math.round(st.start_min)} to ${Math.round(st.end_min)} minutes`),
      el("div", { class: "lanes", role: "group", "aria-label": "Lanes of " + st.block }, ...walk.steps.filter((x) => x.block === st.block).map((x) => lane(walk, x))),
      first ? button("Lead me to " + st.block, () => leadTo(first.key)) : null);
  });
  box.replaceChildren(el("h2", {}, dot, s.name + ", " + s.kind), el("p", { class: "soft" }, s.summary), el("ol", { class: "blocks" }, ...rows));
}

/** @param {import("./walk.js").Walk} walk @param {import("./lead.js").Step} x */
function lane(walk, x) {
  const state = walk.ticks.of(x.key)?.state;
  const said = state === "done" ? "walked" : state === "skipped" ? "left out" : "not walked yet";
  return button((state === "done" ? "✓" : state === "skipped" ? "–" : "") + x.lane, () => walk.tick(x.key, state === "done" ? "skipped" : state === "skipped" ? null : "done"),
    { class: "lane " + (state || "open"), "aria-label": `Lane ${x.lane} of ${x.block}: ${said}` });
}
