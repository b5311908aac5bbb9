// Following the phone's position into a track, and putting the track away.
import { distance } from "./frame.js";
import { followPosition, screenKeeper } from "./where.js";

/** @typedef {import("./chart").Fix} Fix */

const farAway = 50e3; // m from the pad: of another place

export class Follow extends EventTarget {
  /** @param {string} flag under which it is kept whether to follow */
  constructor(flag) {
    super();
    this.flag = flag;
    this.why = "";
    /** @type {Fix | null} */
    this.fix = null;
    this.keepOn = screenKeeper();
    /** @type {(() => void) | undefined} */
    this.end = undefined;
  }

  get on() { return !!this.end; }

  /** Whether it was on when the page was left. */
  get wanted() {
    try {
      return localStorage.getItem(this.flag) === "yes";
    } catch {
      return false;
    }
  }

  /** @param {boolean} yes */
  want(yes) {
    try {
      localStorage.setItem(this.flag, yes ? "yes" : "no");
    } catch { /* nothing is kept */ }
  }

  start() {
    if (this.on) return;
    this.want(true);
    this.why = "Looking for the position. Keep this page open and the screen on; what is not seen is not recorded.";
    this.keepOn(true);
    this.end = followPosition((f) => {
      this.fix = f;
      this.why = "";
      this.dispatchEvent(new CustomEvent("fix", { detail: f }));
    }, (why) => {
      this.why = why;
      if (!this.fix) this.want(false);
      this.dispatchEvent(new Event("state"));
    });
    this.dispatchEvent(new Event("state"));
  }

  stop() {
    this.end?.();
    this.end = undefined;
    this.want(false);
    this.keepOn(false);
    this.why = "";
    this.dispatchEvent(new Event("state"));
  }

  /** Whether a fix is of this place at all. @param {import("./frame.js").XY} xy */
  near(xy) {
    if (distance([0, 0], xy) <= farAway) return true;
    this.why = "This position is more than 50 km from the pad; it is not recorded.";
    return false;
  }
}
