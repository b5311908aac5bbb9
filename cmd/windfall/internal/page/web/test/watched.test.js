// Ground that somebody watched: areas of circles' parts against the formula, and
// outlines that cross themselves.
import assert from "node:assert/strict";
import { test } from "node:test";
import { bearingOf, distance, frameOf } from "../src/field/frame.js";
import { areaOf, crosses, geometryOf, sector } from "../src/field/watched.js";

test("a sector has the area of a circle's part, and lies where it was looked", () => {
  for (const [deg, width, near, far] of [[0, 40, 0, 400], [350, 180, 50, 900], [123, 20, 100, 200]]) {
    const ring = sector([70, -30], deg, width, near, far), want = Math.PI * (far * far - near * near) * width / 360;
    assert.ok(Math.abs(areaOf(ring) - want) < 0.002 * want, `${areaOf(ring)} for ${want}`);
    assert.ok(areaOf(ring) > 0, "counterclockwise");
    assert.ok(!crosses(ring));
    for (const p of ring) assert.ok(distance([70, -30], p) < far + 1e-9);
    const first = bearingOf([70, -30], ring[0]), want1 = (deg + width / 2 + 360) % 360;
    assert.ok(Math.abs(first - want1) < 1e-9, `${first} for ${want1}`);
  }
});

test("an outline that crosses itself is known", () => {
  assert.ok(!crosses([[0, 0], [10, 0], [10, 10]]));
  assert.ok(!crosses([[0, 0], [10, 0], [5, 4], [10, 10], [0, 10]]), "hollow is no crossing");
  assert.ok(crosses([[0, 0], [10, 10], [10, 0], [0, 10]]));
});

test("GeoJSON is closed, counterclockwise and longitude first", () => {
  const f = frameOf({ lat: 41.905, lon: -4.921 });
  for (const ring of [[[0, 0], [100, 0], [0, 50]], [[0, 50], [100, 0], [0, 0]]]) {
    const g = geometryOf(ring, f.toLatLng), points = g.coordinates[0][0];
    assert.equal(points.length, 4);
    assert.deepEqual(points[0], points[3]);
    assert.ok(points[0][0] < 0 && points[0][1] > 41);
    assert.ok(areaOf(points.slice(1)) > 0);
  }
});
