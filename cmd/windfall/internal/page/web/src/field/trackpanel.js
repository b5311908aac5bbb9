// The recorded way in words, and as a file to take away.
import { button, el, newId, say } from "../dom.js";
import { readGPX, writeGPX } from "./gpx.js";
import { clockWord, count, metresWord, spanWord } from "./words.js";

/** @typedef {import("./track.js").Track} Track */

/** What the track is, in sentences. @param {Track} track @param {(a: any, b: any) => number} metres @param {boolean} on */
export function trackWords(track, metres, on) {
  const first = track.pieces[0]?.[0];
  if (!first) return [on ? "Waiting for the first position." : "Nothing is recorded yet."];
  const out = [`${metresWord(track.length(metres))} since ${clockWord(first.t)}, in ${count(track.pieces.length, "piece")}.`];
  for (const g of track.gaps.slice(-4)) out.push(`Gap of ${spanWord(g.to - g.from)} from ${clockWord(g.from)}: ${g.why}.`);
  if (track.gaps.length > 4) out.push(`${track.gaps.length - 4} earlier gaps.`);
  if (track.gaps.length) out.push("What was walked in a gap is not known and will not count as searched.");
  if (track.poor) out.push(`${count(track.poor, "position")} worse than 50 m left out.`);
  if (track.jumps) out.push(`${count(track.jumps, "jump")} of the position left out.`);
  return out;
}

/** Hands the file to the phone's own ways of sending, or saves it. @param {string} name @param {string} text */
export async function give(name, text) {
  const file = new File([text], name, { type: "application/gpx+xml" });
  if (navigator.canShare?.({ files: [file] })) {
    try {
      await navigator.share({ files: [file], title: name });
      return;
    } catch (e) {
      if (/** @type {Error} */ (e).name === "AbortError") return;
    }
  }
  save(name, text);
}

/** @param {string} name @param {string} text */
export function save(name, text) {
  const url = URL.createObjectURL(new Blob([text], { type: "application/gpx+xml" }));
  el("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

/** @param {Track} track @param {string} who @param {string} file */
export function giveButtons(track, who, file) {
  const text = () => writeGPX(who, track.pieces.filter((p) => p.length > 1));
  const ready = (/** @type {(n: string, t: string) => void} */ f) => () => {
    if (track.pieces.some((p) => p.length > 1)) f(file, text());
    else say("There is no track yet to give.", true);
  };
  const out = [button("Save the track as GPX", ready(save), { class: "act" })];
  if (navigator.canShare?.({ files: [new File([""], "a.gpx", { type: "application/gpx+xml" })] })) out.push(button("Send it", ready(give)));
  return out;
}

const mostBytes = 24 * 2 ** 20; // as windfall searched takes; a day of fixes every second is about 10 MB
// Beside the name, what phones call such a file: some know no GPX and would let nobody choose one.
const accept = ".gpx,application/gpx+xml,application/xml,text/xml,application/octet-stream";

/**
 * Where a track of another receiver is loaded. Made once: a file that is being
 * chosen comes to the box that asked for it.
 * @param {string} label @param {(pieces: import("./chart").Fix[][]) => void} take what is wrong with it is thrown
 */
export function gpxBox(label, take) {
  const id = newId(), input = el("input", { id, type: "file", accept });
  input.addEventListener("change", async () => {
    const file = input.files?.[0];
    if (!file) return; // none was chosen after all
    try {
      if (file.size > mostBytes) throw new Error("this file is larger than 24 MB; cut the track to the search");
      const pieces = readGPX(await file.text());
      if (pieces.some((p) => p.some((f) => Number.isNaN(f.t)))) throw new Error("this track has no times, as a plan has none; where it was walked all the same, log it at the laptop with windfall searched");
      take(pieces);
    } catch (err) {
      say(`${file.name}: ${/** @type {Error} */ (err).message}.`, true);
    }
    input.value = ""; // so that the same file can be chosen again
  });
  return el("p", {}, el("label", { for: id }, label), input);
}
