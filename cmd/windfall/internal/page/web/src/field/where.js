// Where the phone is, as far as the browser tells, and in words why it does not.

/** @typedef {import("./chart").Fix} Fix */

export const secureWords = "This browser gives a page the position only when the page came over https or from the phone itself (localhost). Here you can type a position, tap the map, or load a track.";

/** Whether the browser can be asked at all. */
export function canFollow() { return "geolocation" in navigator && window.isSecureContext; }

/**
 * Follows the phone's position, at most one fix a second.
 * @param {(f: Fix) => void} on @param {(why: string) => void} fail
 * @returns {() => void} stops
 */
export function followPosition(on, fail) {
  if (!("geolocation" in navigator)) {
    fail("This browser gives no position. Type one, tap the map, or load a track.");
    return () => {};
  }
  let last = 0;
  const id = navigator.geolocation.watchPosition((p) => {
    // Some receivers count from another second than the phone's clock: the phone's is what others have too.
    const t = Math.abs(p.timestamp - Date.now()) < 60e3 ? p.timestamp : Date.now();
    if (t - last < 900) return;
    last = t;
    on({ t, lat: p.coords.latitude, lon: p.coords.longitude, acc: p.coords.accuracy });
  }, (e) => {
    if (e.code === e.PERMISSION_DENIED) fail(window.isSecureContext ? "The position was refused. Allow it for this page in the browser's settings, then press Follow me again." : secureWords);
    else fail("No position yet: " + (e.code === e.TIMEOUT ? "the receiver is slow" : "the receiver finds none") + ". Step into the open; the page goes on trying.");
  }, { enableHighAccuracy: true, maximumAge: 1000, timeout: 30000 });
  return () => navigator.geolocation.clearWatch(id);
}

/**
 * The direction of walking from the last fixes, degrees true; null when standing.
 * @param {Fix[]} piece @param {(f: Fix) => [number, number]} xy
 */
export function courseOf(piece, xy) {
  const last = piece.at(-1);
  if (!last) return null;
  for (let i = piece.length - 2; i >= 0 && last.t - piece[i].t < 15e3; i--) {
    const [ax, ay] = xy(piece[i]), [bx, by] = xy(last), d = Math.hypot(bx - ax, by - ay);
    if (d >= 6) return ((Math.atan2(bx - ax, by - ay) * 180) / Math.PI + 360) % 360;
  }
  return null;
}

/** Keeps the screen on where the browser allows it. @returns {(on: boolean) => Promise<boolean>} */
export function screenKeeper() {
  /** @type {any} */
  let lock = null;
  let wanted = false;
  const take = async () => {
    try {
      lock = await /** @type {any} */ (navigator).wakeLock.request("screen");
      return true;
    } catch {
      return false;
    }
  };
  document.addEventListener("visibilitychange", () => { if (wanted && !document.hidden) take(); });
  return async (on) => {
    wanted = on;
    if (on) return take();
    await lock?.release();
    lock = null;
    return true;
  };
}

/** A place as it is typed: latitude, longitude in decimal degrees. @param {string} text @returns {[number, number] | null} */
export function parsePlace(text) {
  const m = /^\s*(?:geo:)?(-?\d{1,2}(?:\.\d+)?)\s*[, ]\s*(-?\d{1,3}(?:\.\d+)?)\s*$/.exec(text.replace(/°/g, ""));
  if (!m || Math.abs(+m[1]) > 90 || Math.abs(+m[2]) > 180) return null;
  return [Number(m[1]), Number(m[2])];
}
