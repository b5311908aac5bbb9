// Finds things in the page as a person does: by the words that are seen.
window.__faults = [];
for (const [on, say] of [["error", (e) => e.message || "cannot load " + (e.target?.src || e.target?.href)], ["unhandledrejection", (e) => String(e.reason)],
  ["securitypolicyviolation", (e) => "against the policy: " + e.violatedDirective + " " + e.blockedURI]]) {
  window.addEventListener(on, (e) => window.__faults.push(say(e)), true);
}
const complain = console.error;
console.error = (...a) => { window.__faults.push(a.join(" ")); complain(...a); };

// Nobody is there to answer whether to leave a page with changes.
const listen = window.addEventListener;
window.addEventListener = (name, ...rest) => { if (name !== "beforeunload") listen.call(window, name, ...rest); };

window.hands = {
  seen(e) {
    const r = e.getBoundingClientRect(), s = getComputedStyle(e);
    return r.width > 0 && r.height > 0 && s.visibility !== "hidden";
  },
  words(e) { return (e.innerText || e.textContent || "").trim().replace(/\s+/g, " "); },
  // A button, tab, summary or link with these words.
  button(text) {
    return [...document.querySelectorAll("button, summary, a, [role=tab]")].filter(this.seen).find((e) => this.words(e) === text || e.getAttribute("aria-label") === text);
  },
  // What is typed into under a label; within a group of that legend, if one is named.
  field(text, within) {
    const labels = [...document.querySelectorAll("label")].filter((l) => this.words(l) === text && this.seen(l)
      && (!within || this.words(l.closest("fieldset")?.querySelector("legend") || document.createElement("i")) === within));
    return labels.length ? document.getElementById(labels[0].htmlFor) : undefined;
  },
  middle(e) {
    if (!e) return null;
    if (!e.closest("#map")) e.scrollIntoView({ block: "center" });
    const r = e.getBoundingClientRect();
    return [r.left + r.width / 2, r.top + r.height / 2];
  },
};
