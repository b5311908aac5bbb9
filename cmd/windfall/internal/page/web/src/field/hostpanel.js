// For the person at the laptop: the way in, and out.
import { ask } from "../api.js";
import { button, el, say } from "../dom.js";

/** @param {import("./crewapp.js").App} app */
export async function hostBox(app) {
  const box = el("div", { class: "host" });
  let shown = "";
  const tell = async (/** @type {string} */ method, /** @type {string} */ path, /** @type {string} */ words) => {
    try {
      await ask(method, path);
      say(words);
    } catch (e) {
      say(/** @type {Error} */ (e).message, true);
    }
    await show();
  };
  const show = async () => {
    const p = await ask("GET", "people"), key = JSON.stringify([p.join_code, p.address, p.people.map((/** @type {any} */ q) => [q.id, q.name])]);
    if (key === shown) return;
    shown = key;
    box.replaceChildren(el("h2", {}, "Let phones in"),
      ...(p.join_code ? [el("p", {}, "On the phone open ", el("b", {}, p.address || location.origin), " and type the code ", el("b", { class: "code" }, p.join_code), "."),
        el("img", { class: "qr", alt: "QR code of the address for phones", src: "/api/v1/code/picture?" + p.join_code, onerror: (/** @type {Event} */ e) => /** @type {HTMLElement} */ (e.target).remove() }),
        el("div", { class: "chips" }, button("Make a new code", () => tell("POST", "code", "Those who are in stay in.")))] : [el("p", {}, "Nobody else can come in: start windfall serve with --listen to let phones in.")]),
      ...p.people.filter((/** @type {any} */ q) => !q.host).map((/** @type {any} */ q) => el("p", { class: "row" }, el("span", {}, q.name || "without a name"), button("Put out", () => {
        if (window.confirm(`Put ${q.name || "this phone"} out? The code changes too; what they logged stays.`)) tell("DELETE", "people/" + encodeURIComponent(q.id), "Out. There is a new code.");
      }, { "aria-label": "Put out " + (q.name || "the phone without a name") }))),
      el("div", { class: "chips" }, button("Forget all positions", () => tell("DELETE", "positions", "Positions are forgotten. Tracks in the logbook stay."))));
  };
  const look = () => { if (!document.hidden && box.offsetParent && app.field.online) show().catch(() => {}); };
  app.field.addEventListener("change", look);
  setInterval(look, 5000); // who comes in says nothing yet
  await show();
  return box;
}
