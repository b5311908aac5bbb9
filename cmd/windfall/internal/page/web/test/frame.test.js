// The frame against geodesics on WGS 84 (Karney 2013; values printed by the Go
// port of GeographicLib, github.com/tidwall/geodesic).
import assert from "node:assert/strict";
import { test } from "node:test";
import { bearingOf, frameOf, norm, polar, turn } from "../src/field/frame.js";

const rows = [ // pad's latitude, longitude; metres east, north; latitude, longitude
  [41.905, -4.925, 300, -450, 41.900948495, -4.921384633],
  [41.905, -4.925, -2500, 1200, 41.915799894, -4.955135044],
  [41.905, -4.925, 7000, 7000, 41.967991123, -4.840553045],
  [41.905, -4.925, -9900, -500, 41.900436413, -5.044306201],
  [-17, 179.999, 300, -450, -17.00406615, -179.998182663],
  [-17, 179.999, -9900, -500, -17.004496744, 179.906027664],
  [68, 25, 7000, 7000, 68.062674688, 25.167832147],
  [68, 25, -9900, -500, 67.995347157, 24.763326765],
];

test("metres and degrees keep to the geodesic within a centimetre", () => {
  for (const [lat0, lon0, x, y, lat, lon] of rows) {
    const f = frameOf({ lat: lat0, lon: lon0 });
    const [px, py] = f.toXY(lat, lon);
    assert.ok(Math.hypot(px - x, py - y) < 0.01, `${x}, ${y} came out as ${px}, ${py}`);
    const [la, lo] = f.toLatLng([x, y]);
    assert.ok(Math.abs(la - lat) < 1e-7 && Math.abs(norm(lo - lon + 180) - 180) < 3e-7, `${lat}, ${lon} came out as ${la}, ${lo}`);
  }
});

test("bearings run clockwise from north", () => {
  assert.equal(Math.round(bearingOf([0, 0], [10, 0])), 90);
  assert.equal(Math.round(bearingOf([0, 0], [-10, -10])), 225);
  assert.equal(turn(350, 20), 30);
  assert.equal(turn(20, 350), -30);
  assert.ok(Math.hypot(...polar([1, 1], 5, 180)) - Math.hypot(1, -4) < 1e-9);
});
