// Elements without a framework, and words for those who do not see them.

/**
 * Makes an element. A property that starts with "on" is a listener; "aria-…",
 * "data-…", "role" and "for" are attributes; the rest are properties.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, any> | null} [props]
 * @param {...(Node | string | null | undefined | false)} kids
 * @returns {HTMLElementTagNameMap[K]}
 */
export function el(tag, props, ...kids) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(props || {})) {
    if (v === undefined || v === null) continue;
    if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
    else if (k.includes("-") || k === "role" || k === "for" || k === "list") e.setAttribute(k, String(v));
    else /** @type {any} */ (e)[k === "class" ? "className" : k] = v;
  }
  for (const kid of kids) if (kid) e.append(kid);
  return e;
}

/** @param {string} id @returns {HTMLElement} */
export function byId(id) {
  const e = document.getElementById(id);
  if (!e) throw new Error("the page has no " + id);
  return e;
}

const svgSpace = "http://www.w3.org/2000/svg";

/**
 * @param {string} tag @param {Record<string, string | number>} attrs @param {...(Node | string)} kids
 * @returns {SVGElement}
 */
export function svg(tag, attrs, ...kids) {
  const e = document.createElementNS(svgSpace, tag);
  for (const [k, v] of Object.entries(attrs)) e.setAttribute(k, String(v));
  e.append(...kids);
  return e;
}

/**
 * Says something in the live region and shows it for a while.
 * @param {string} text @param {boolean} [loud] whether it is a fault, which stays until closed
 */
export function say(text, loud) {
  const box = byId(loud ? "alerts" : "says");
  const line = el("p", { class: "said" }, text);
  if (loud) line.append(el("button", { type: "button", class: "plain", onclick: () => line.remove() }, "Close"));
  if (loud) box.replaceChildren(line);
  else {
    box.replaceChildren(line);
    setTimeout(() => line.remove(), document.body.classList.contains("field") ? Math.min(6000, Math.max(2500, 70 * text.length)) : 6000);
  }
}

let ids = 0;

/** A new id, to join a label with what it names. @returns {string} */
export function newId() { return "n" + ++ids; }

/**
 * A button of our own.
 * @param {string} text @param {() => void} act @param {Record<string, any>} [more]
 */
export function button(text, act, more) {
  return el("button", { type: "button", onclick: act, ...more }, text);
}

export const bounce = 700; // ms: a glove, or a thumb on wet glass, presses twice

/**
 * A press that counts once, however the thumb bounces.
 * @template {any[]} A @param {(...a: A) => void} act @returns {(...a: A) => void}
 */
export function once(act) {
  let last = -bounce;
  return (...a) => {
    if (performance.now() - last < bounce) return;
    last = performance.now();
    act(...a);
  };
}

/**
 * Calls f once things have been quiet for a while.
 * @param {number} ms @param {() => void} f
 * @returns {() => void}
 */
export function later(ms, f) {
  let t = 0;
  return () => {
    clearTimeout(t);
    t = window.setTimeout(f, ms);
  };
}
