// Saving, and what to do when the file was changed elsewhere meanwhile.
import { ask, follow, Refusal } from "./api.js";
import { button, byId, el, say } from "./dom.js";

/** @typedef {import("./draft.js").Draft} Draft */

export class Saving {
  /** @param {Draft} draft @param {(f: import("./types").Fault | undefined) => void} fault */
  constructor(draft, fault) {
    this.draft = draft;
    this.fault = fault;
    this.save = /** @type {HTMLButtonElement} */ (byId("save"));
    this.undo = /** @type {HTMLButtonElement} */ (byId("undo"));
    this.state = byId("state");
    this.dialog = /** @type {HTMLDialogElement} */ (byId("conflict"));
    this.save.addEventListener("click", () => this.send());
    this.undo.addEventListener("click", () => draft.undo());
    draft.addEventListener("change", () => this.show());
    window.addEventListener("beforeunload", (e) => { if (draft.dirty) e.preventDefault(); });
    document.addEventListener("keydown", (e) => {
      if (!(e.ctrlKey || e.metaKey) || e.key !== "s") return;
      e.preventDefault();
      if (!this.save.disabled) this.send();
    });
    this.watch();
    this.show();
  }

  show() {
    const n = this.draft.count;
    this.save.disabled = !this.draft.dirty || !this.draft.saved.may_change;
    this.undo.disabled = this.draft.past.length === 0;
    this.state.textContent = !this.draft.saved.may_change ? "only the laptop may change the flight" : n === 0 ? "saved" : n === 1 ? "1 change not saved" : n + " changes not saved";
  }

  async send() {
    this.save.disabled = true;
    try {
      const saved = await ask("PUT", "flight", this.draft.body());
      this.draft.reload(saved, false);
      this.fault(undefined);
      byId("alerts").replaceChildren();
      say("Saved " + saved.path.split("/").slice(-2).join("/"));
    } catch (e) {
      if (e instanceof Refusal && e.status === 409) this.conflict(e.body);
      else {
        if (e instanceof Refusal && e.fault) this.fault(e.fault);
        say("Not saved: " + /** @type {Error} */ (e).message, true);
      }
    }
    this.show();
  }

  /** Looks for changes made by an editor or in another window. */
  watch() {
    follow("events", {
      flight: async (e) => {
        if (e.hash === this.draft.saved.hash && e.field === this.draft.saved.drawn_hash.field && e.ground === this.draft.saved.drawn_hash.ground) return;
        try {
          if (!this.draft.dirty) {
            this.draft.reload(await ask("GET", "flight"), false);
            say("The flight was changed elsewhere; this is the new one");
          } else say("The flight was changed elsewhere. Your changes are kept; saving will show both.", true);
        } catch (err) {
          say(/** @type {Error} */ (err).message, true);
        }
      },
      stopping: () => say("The program is stopping. Your changes are kept in this window.", true),
    });
  }

  /** Shows both. @param {{message: string, theirs: import("./types").Flight, differences: {key: string, base: string, yours: string, theirs: string}[], yours_text: string, theirs_text: string}} c */
  conflict(c) {
    const close = () => this.dialog.close();
    this.dialog.replaceChildren(
      el("h2", { id: "conflict-title" }, "Changed elsewhere meanwhile"), el("p", {}, c.message),
      el("div", { class: "scroll", tabIndex: 0 }, el("table", {}, el("thead", {}, el("tr", {}, ...["key", "yours", "theirs"].map((t) => el("th", { scope: "col" }, t)))),
        el("tbody", {}, ...c.differences.map((d) => el("tr", {}, el("th", { scope: "row" }, d.key), el("td", {}, d.yours || "left out"), el("td", {}, d.theirs || "left out")))))),
      el("details", {}, el("summary", {}, "Both files whole"), el("div", { class: "both" },
        el("div", {}, el("h3", {}, "Yours"), el("pre", { tabIndex: 0 }, c.yours_text)), el("div", {}, el("h3", {}, "Theirs"), el("pre", { tabIndex: 0 }, c.theirs_text)))),
      el("div", { class: "chips" },
        button("Put my changes into theirs", () => { close(); this.draft.reload(c.theirs, true); say("Your changes stand on the newer file now. Look them over, then save."); }, { class: "act" }),
        button("Take theirs, drop mine", () => { close(); this.draft.reload(c.theirs, false); say("This is the file as it was changed elsewhere."); }),
        button("Decide later", close)));
    this.dialog.showModal();
  }
}
