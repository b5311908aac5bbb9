// Compass and tilt of the phone, where the browser gives them.

/**
 * @typedef {{magnetic: number | null, spread: number, up: number | null}} Attitude
 * magnetic: where the top edge points, degrees from magnetic north; up: how far
 * it points above the horizon
 */

// A phone's compass among cars and launch rails: a choice of ours, no source.
const spread = 10;

/**
 * Listens to the phone's attitude, at most twice a second.
 * @param {(a: Attitude) => void} on @param {(why: string) => void} fail
 * @returns {Promise<() => void>} stops
 */
export async function watchAttitude(on, fail) {
  const E = /** @type {any} */ (window).DeviceOrientationEvent;
  if (!E || !window.isSecureContext) {
    fail("This browser gives compass and tilt only on a secure page (https or the phone itself), or has none. Turn the line on the map, or write the number your compass shows.");
    return () => {};
  }
  if (E.requestPermission && (await E.requestPermission().catch(() => "denied")) !== "granted") {
    fail("Compass and tilt were refused. Turn the line on the map, or write the number.");
    return () => {};
  }
  let last = 0, any = false;
  /** @type {Attitude} */
  const now = { magnetic: null, spread, up: null };
  const take = (/** @type {any} */ e) => {
    if (e.webkitCompassHeading !== undefined) now.magnetic = e.webkitCompassHeading;
    else if (e.absolute && e.alpha !== null) now.magnetic = (360 - e.alpha) % 360;
    if (e.webkitCompassAccuracy > 0) now.spread = Math.max(spread, e.webkitCompassAccuracy);
    if (typeof e.beta === "number") now.up = e.beta;
    if (Date.now() - last < 500 || (now.magnetic === null && now.up === null)) return;
    last = Date.now();
    any = true;
    on(now);
  };
  const names = ["deviceorientationabsolute", "deviceorientation"]; // the second tells no north on most phones
  names.forEach((n) => window.addEventListener(n, take));
  setTimeout(() => { if (!any) fail("This phone tells no compass. Turn the line on the map, or write the number."); }, 3000);
  return () => names.forEach((n) => window.removeEventListener(n, take));
}
