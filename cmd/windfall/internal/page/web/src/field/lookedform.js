// How it came down: with something open above it, or fast.
import { el, newId } from "../dom.js";
import { pair } from "./words.js";

const looks = [["open", "slowly, a canopy or streamer out"], ["fast", "fast, nothing held it"]];

export class LookedForm {
  kind = "looked";
  name = "How it fell";
  stands = false;

  /** @param {() => void} changed */
  constructor(changed) {
    this.looks = el("select", { id: newId(), onchange: changed }, ...looks.map(([v, t]) => el("option", { value: v }, t)));
    this.all = [pair("It came down", this.looks)];
  }

  /** @returns {HTMLElement[]} */
  fields() { return this.all; }

  /** @param {L.LayerGroup} _g */
  draw(_g) {}

  words() { return "it came down " + this.looks.selectedOptions[0].text; }

  /** @param {boolean} _again */
  entry(_again) { return { looked: this.looks.value }; }

  /** Shows what was logged, to be amended. @param {any} b */
  amend(b) { if (looks.some(([v]) => v === b.looked)) this.looks.value = b.looked; }
}
