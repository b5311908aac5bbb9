import assert from "node:assert/strict";
import { test } from "node:test";
import { frameOf, distance } from "../src/field/frame.js";
import { digest, parts, writeGPX } from "../src/field/gpx.js";
import { Track } from "../src/field/track.js";

const f = frameOf({ lat: 41.9, lon: -4.9 });
const metres = (a, b) => distance(f.toXY(a.lat, a.lon), f.toXY(b.lat, b.lon));
const fix = (s, north, acc = 5) => { const [lat, lon] = f.toLatLng([0, north]); return { t: 1e12 + 1000 * s, lat, lon, acc }; };

test("a silence, a hidden page and a reload are gaps", () => {
  let t = new Track();
  for (const s of [0, 1, 2]) t.add(fix(s, s), metres);
  t.add(fix(60, 3), metres);
  t.pause("the screen was off");
  t.add(fix(65, 4), metres);
  t = new Track(JSON.parse(JSON.stringify(t.kept())));
  t.add(fix(70, 5), metres);
  assert.deepEqual(t.pieces.map((p) => p.length), [3, 1, 1, 1]);
  assert.deepEqual(t.gaps.map((g) => g.why), ["no fixes", "the screen was off", "the page was closed"]);
  assert.ok(Math.abs(t.length(metres) - 2) < 0.05, "what lies in gaps is not counted");
});

test("poor fixes, old ones and jumps are left out", () => {
  const t = new Track();
  t.add(fix(0, 0), metres);
  assert.equal(t.add(fix(1, 1, 80), metres), false);
  assert.equal(t.add(fix(0, 1), metres), false);
  assert.equal(t.add(fix(2, 10000), metres), false, "10 km in two seconds");
  assert.equal(t.add(fix(3, 2), metres), true);
  assert.deepEqual([t.poor, t.jumps, t.pieces.length], [1, 1, 1]);
});

test("when the position stays where it jumped to, a new piece begins", () => {
  const t = new Track();
  t.add(fix(0, 0), metres);
  t.add(fix(1, 5000), metres);
  t.add(fix(2, 5001), metres);
  assert.deepEqual(t.pieces.map((p) => p.length), [1, 1]);
  assert.equal(t.gaps[0].why, "a jump of the position");
});

test("GPX has a segment a piece and no mark that would break it", () => {
  const text = writeGPX('Inés <"&\u0000>', [[fix(0, 0), fix(1, 1)], [fix(9, 9)]]);
  assert.equal(text.split("<trkseg>").length, 3);
  assert.match(text, /<name>Inés &#60;&#34;&#38;&#62;<\/name>/);
  assert.match(text, /<time>2001-09-09T01:46:40.000Z<\/time>/);
});

test("a loaded track is joined up only where somebody may have walked", () => {
  const walk = [fix(0, 0), fix(10, 10), fix(20, 20)];
  assert.deepEqual(parts(walk, metres, false).map((p) => p.length), [3]);
  assert.deepEqual(parts([...walk, fix(200, 120)], metres, false).map((p) => p.length), [3, 1], "three minutes and 100 m");
  assert.deepEqual(parts([...walk, fix(200, 60)], metres, false).map((p) => p.length), [4], "stood still");
  assert.deepEqual(parts([...walk, fix(60, 320)], metres, false).map((p) => p.length), [3, 1], "300 m at once");
  const drive = Array.from({ length: 100 }, (_, i) => fix(i / 2, 3 * i)), stroll = Array.from({ length: 100 }, (_, i) => fix(100 + 4 * i, 300 + 5 * i));
  assert.ok(parts(drive, metres, false).every((p) => p.length === 1), "6 m/s on foot");
  assert.deepEqual(parts(drive, metres, true).map((p) => p.length), [100], "6 m/s by drone");
  const longest = Math.max(...parts([...drive, ...stroll], metres, false).map((p) => p.length));
  assert.ok(longest >= 100 && longest < 140, "the walk after the drive stays: " + longest);
  assert.deepEqual(parts([...walk, fix(5, 25)], metres, false).map((p) => p.length), [3, 1], "back in time");
});

test("a track is known again, and no other is taken for it", () => {
  const walk = [[fix(0, 0), fix(10, 10)]];
  assert.equal(digest(walk), digest(structuredClone(walk)));
  assert.match(digest(walk), /^[0-9a-f]{16}$/);
  assert.notEqual(digest(walk), digest([[fix(0, 0), fix(10, 10.1)]]));
});
