// Files: everything the command line makes, with the command that makes it.
import { ask, follow } from "./api.js";
import { button, el, newId, say } from "./dom.js";
import { usualList } from "./field/notes.js";

/** @typedef {import("./types").Job} Job */

export class Files {
  /**
   * @param {import("./draft.js").Draft} draft @param {HTMLElement} panel
   * @param {() => Promise<void>} refresh reads the folder again
   */
  constructor(draft, panel, refresh) {
    this.draft = draft;
    this.refresh = refresh;
    this.list = el("ul", { class: "commands" });
    panel.append(el("p", {}, "Files are made from the flight as it is saved, the same as the command beside each makes them."), this.list, ...usualList());
    this.start();
  }

  async start() {
    try {
      const all = await ask("GET", "commands");
      this.list.replaceChildren(...all.commands.map((/** @type {any} */ c) => this.row(c)));
    } catch (e) {
      this.list.replaceChildren(el("li", { class: "fault" }, /** @type {Error} */ (e).message));
    }
  }

  /** @param {{name: string, title: string, wants?: string, line: string, files: string[]}} c */
  row(c) {
    const out = el("div", { class: "made" }), id = newId();
    const files = this.draft.saved.files.filter((f) => /\.(geojson|txt)$/i.test(f));
    const file = c.wants ? el("select", { id }, ...files.map((f) => el("option", { value: f }, f))) : null;
    const go = button("Make: " + c.title, () => this.run({ command: c.name, file: file?.value }, out, go), { class: "act" });
    if (c.files.length) links(out, c.files);
    return el("li", {}, el("h3", {}, c.title), el("code", { tabIndex: 0 }, c.line),
      file && el("div", { class: "field" }, el("label", { for: id }, c.wants || ""), file), go, out);
  }

  /** @param {{command: string, file?: string}} what @param {HTMLElement} out @param {HTMLButtonElement} go */
  async run(what, out, go) {
    if (this.draft.dirty) {
      say("There are changes that are not saved; save them first, so that the files hold them.", true);
      return;
    }
    try {
      const job = /** @type {Job} */ (await ask("POST", "jobs", what));
      go.disabled = true;
      const bar = el("progress", { max: 1, "aria-label": "Progress" }), words = el("span", { role: "status" }, "running…");
      bar.removeAttribute("value");
      out.replaceChildren(bar, words, button("Cancel", () => ask("DELETE", "jobs/" + job.id)));
      const done = (/** @type {Job} */ j) => {
        stop();
        go.disabled = false;
        if (j.state === "done") {
          links(out, j.files || []);
          say("Made: " + what.command);
          this.refresh();
        } else out.replaceChildren(el("p", { class: j.state === "failed" ? "fault" : "soft", role: "alert" }, j.error || "cancelled; nothing was written"));
      };
      const stop = follow(`jobs/${job.id}/events`, {
        progress: (j) => {
          if (j.total > 0) bar.value = j.done / j.total;
          words.textContent = j.stage || "running…";
        },
        end: done,
      });
    } catch (e) {
      out.replaceChildren(el("p", { class: "fault", role: "alert" }, /** @type {Error} */ (e).message));
    }
  }
}

/** @param {HTMLElement} out @param {string[]} files */
function links(out, files) {
  out.replaceChildren(el("ul", { class: "links" }, ...files.map((f) => el("li", {}, el("a", { href: "/api/v1/files/" + f.split("/").map(encodeURIComponent).join("/"), download: "" }, f)))));
}
