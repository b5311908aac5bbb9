// Tiles fetched ahead. Longitude -4.921, latitude 41.905 lies in tile 15936, 12175
// of zoom 15: worked out by the other form of the projection (EPSG:3857), with
// ln tan(45 degrees + latitude / 2).
import assert from "node:assert/strict";
import { test } from "node:test";
import { tilesOf } from "../src/field/ahead.js";

const box = { west: -4.925, south: 41.901, east: -4.917, north: 41.909 };

test("the tiles of a box, coarse ones first", () => {
  const all = tilesOf(box, 13, 18), z15 = all.filter(([z]) => z === 15);
  assert.deepEqual([...new Set(all.map(([z]) => z))], [13, 14, 15, 16, 17, 18]);
  assert.ok(z15.some(([, x, y]) => x === 15936 && y === 12175), JSON.stringify(z15));
  for (const [z, x, y] of all.filter(([k]) => k > 13)) assert.ok(all.some(([k, u, v]) => k === z - 1 && u === x >> 1 && v === y >> 1), "each lies in one of the zoom before");
});

test("no more than 300, in whole zooms, none finer than 18", () => {
  const wide = { west: -5, south: 41.85, east: -4.85, north: 41.95 }, some = tilesOf(wide, 13, 22);
  assert.ok(some.length <= 300 && some.at(-1)[0] < 18, String(some.length));
  assert.equal(tilesOf(box, 13, 22).at(-1)[0], 18);
  assert.deepEqual(tilesOf(box, 13, 12), []);
});
