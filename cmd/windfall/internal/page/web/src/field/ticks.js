// What was walked of a plan, kept in the browser under the plan's key: another
// plan begins with a clean sheet, and the old one's is there when it comes back.

/** @typedef {{state: "done" | "skipped", at: number}} Tick */

export class Ticks {
  /** @param {string} plan key of the plan @param {string} who */
  constructor(plan, who) {
    this.name = "windfall ticks " + plan + " " + who;
    /** @type {Record<string, Tick>} */
    this.all = {};
    this.lasting = true;
    try {
      this.all = JSON.parse(localStorage.getItem(this.name) || "{}");
    } catch {
      this.lasting = false;
    }
  }

  /** @param {string} key @returns {Tick | undefined} */
  of(key) { return this.all[key]; }

  /** @param {string} key @param {"done" | "skipped" | null} state null: neither @param {number} at ms */
  set(key, state, at) {
    if (state) this.all[key] = { state, at };
    else delete this.all[key];
    try {
      localStorage.setItem(this.name, JSON.stringify(this.all));
    } catch {
      this.lasting = false;
    }
  }

  /** @param {string[]} keys */
  count(keys) { return keys.filter((k) => this.all[k]?.state === "done").length; }
}
