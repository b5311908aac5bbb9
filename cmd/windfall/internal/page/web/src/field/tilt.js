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
  const take = (/** @type {any} */ e) => {
    if (Date.now() - last < 500 || (e.alpha === null && e.webkitCompassHeading === undefined)) return;
    last = Date.now();
    any = true;
    const heading = e.webkitCompassHeading !== undefined ? e.webkitCompassHeading : e.absolute ? (360 - e.alpha) % 360 : null;
    on({ magnetic: heading, spread: Math.max(spread, e.webkitCompassAccuracy || 0), up: e.beta === null ? null : e.beta });
  };
  const names = "ondeviceorientationabsolute" in window ? ["deviceorientationabsolute"] : ["deviceorientation"];
  names.forEach((n) => window.addEventListener(n, take));
  setTimeout(() => { if (!any) fail("This phone tells no compass. Turn the line on the map, or write the number."); }, 3000);
  return () => names.forEach((n) => window.removeEventListener(n, take));
}
