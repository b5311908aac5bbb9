// Tiles of the laptop's own base map for ground that nobody has looked at yet,
// fetched one by one while the phone is in range: the service worker keeps them.
// Another server's tiles are left to be fetched as they are looked at.

const most = 300; // tiles, some 6 MB: a choice of ours
const finest = 18; // 0.6 m a pixel at the equator

/**
 * The tiles of a box, the coarsest first: as many whole zooms as most allows.
 * Numbers of Web Mercator as web maps have them.
 * @param {{west: number, south: number, east: number, north: number}} box degrees @param {number} low @param {number} high zooms
 * @returns {[number, number, number][]} zoom, x, y
 */
export function tilesOf(box, low, high) {
  /** @type {[number, number, number][]} */
  const out = [];
  for (let z = low; z <= Math.min(high, finest); z++) {
    const n = 2 ** z, across = (/** @type {number} */ lon) => Math.floor(((lon + 180) / 360) * n);
    const down = (/** @type {number} */ lat) => Math.floor((0.5 - Math.asinh(Math.tan((lat * Math.PI) / 180)) / (2 * Math.PI)) * n);
    const x0 = across(box.west), x1 = across(box.east), y0 = down(box.north), y1 = down(box.south);
    if (out.length + (x1 - x0 + 1) * (y1 - y0 + 1) > most) break;
    for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) out.push([z, x, y]);
  }
  return out;
}

/**
 * Fetches what is under a plan. Ends at the first that does not come: the phone
 * is out of range, and the next plan or opening begins again.
 * @param {import("../types").BaseMap} base @param {[number, number][]} points latitude and longitude
 * @returns {Promise<boolean>} whether all is here that can be
 */
export async function fetchAhead(base, points) {
  const workers = navigator.serviceWorker;
  if (base.kind !== "tiles" || !base.url?.startsWith("/") || !points.length || !workers || !window.isSecureContext) return true;
  await workers.ready;
  if (!workers.controller) await new Promise((ok) => workers.addEventListener("controllerchange", ok, { once: true }));
  const lats = points.map((p) => p[0]), lons = points.map((p) => p[1]), by = 0.002; // degrees beyond: some 200 m
  const box = { west: Math.min(...lons) - by, south: Math.min(...lats) - by, east: Math.max(...lons) + by, north: Math.max(...lats) + by };
  for (const [z, x, y] of tilesOf(box, Math.max(base.min_zoom || 0, 13), base.max_zoom || finest)) {
    try {
      await (await fetch(base.url.replace("{z}", String(z)).replace("{x}", String(x)).replace("{y}", String(y)))).arrayBuffer();
    } catch {
      return false;
    }
  }
  return true;
}
