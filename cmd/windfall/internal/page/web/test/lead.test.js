import assert from "node:assert/strict";
import { test } from "node:test";
import { firstOpen, against, lead, length, nearOf, nextStep, Passed, stepsOf } from "../src/field/lead.js";

const block = { block: "A1", text: "", start_min: 0, end_min: 9, spacing_m: 40, path: [[0, 0], [0, 200], [40, 200], [40, 0]], lanes: [[[0, 0], [0, 200]], [[40, 200], [40, 0]]] };
const way = { text: "way there", start_min: 0, end_min: 1, path: [[-90, -50], [-90, 0], [0, 0]] };
const steps = stepsOf([way, block, { ...way, path: [[40, 0], [40, 0]] }]);

test("lanes and ways are steps in order; a way of no length is none", () => {
  assert.deepEqual(steps.map((s) => s.key), ["way-1", "A1-01", "A1-02"]);
  assert.equal(length(way.path), 140);
});

test("right of a line is positive, whichever way it runs", () => {
  const up = against(steps[1].line, [4, 50]), down = against(steps[2].line, [44, 150]);
  assert.deepEqual([up.off, up.along, up.left, Math.round(up.bearing)], [4, 50, 150, 0]);
  assert.deepEqual([down.off, down.along, Math.round(down.bearing)], [-4, 50, 180]);
  assert.equal(against(steps[1].line, [3, 260]).left, 0, "beyond the end nothing is left");
});

test("one is sent to the beginning, along the lane, and told of its end", () => {
  const passed = new Passed(steps[1].line, nearOf(block));
  const far = lead(steps[1], passed, [-90, 0], 5);
  assert.deepEqual([far.say, Math.round(far.bearing), far.to], ["to", 90, 90]);
  assert.equal(lead(steps[1], passed, [1, -2], 5).say, "along");
  passed.walk([0, 0], [3, 100]);
  assert.ok(passed.share >= 0.5 && passed.share <= 0.65, "half of it, and what lies within reach of where one stands");
  const mid = lead(steps[1], passed, [6, 100], 5);
  assert.deepEqual([mid.say, mid.off, mid.left], ["along", 6, 100]);
  const skipped = lead(steps[1], passed, [0, 199], 5);
  assert.equal(skipped.say, "to", "its end alone is not the lane");
  assert.ok(skipped.to > 60 && Math.round(skipped.bearing) === 180, "back to where it was left");
  passed.walk([3, 100], [0, 199]);
  assert.equal(lead(steps[1], passed, [0, 199], 5).say, "end");
});

test("a lane passed too far off is not walked", () => {
  const passed = new Passed(steps[1].line, nearOf(block));
  passed.walk([25, 0], [25, 200]);
  assert.equal(passed.share, 0);
  passed.walk([19, 0], [19, 200]);
  assert.equal(passed.share, 1);
});

test("on a way the next corner leads", () => {
  const none = new Passed(steps[0].line, 8);
  const first = lead(steps[0], none, [-90, -40], 5), second = lead(steps[0], none, [-80, 0], 5);
  assert.deepEqual([first.say, Math.round(first.bearing)], ["way", 0]);
  assert.deepEqual([second.say, Math.round(second.bearing), second.left], ["way", 90, 80]);
  assert.equal(lead(steps[0], none, [-5, 3], 5).say, "end");
});

test("the next step is the first that is not ticked, and lanes left out come last", () => {
  const done = new Set(["way-1", "A1-02"]);
  assert.equal(nextStep(steps, (k) => done.has(k)), 1);
  assert.equal(nextStep(steps, (k) => done.has(k), 2), 1);
  done.add("A1-01");
  assert.equal(nextStep(steps, (k) => done.has(k)), -1);
});

test("what is ticked already lies behind, with the ways to it", () => {
  const some = ["way-1", "A1-01", "A1-02", "way-2", "way-3", "B1-01", "way-4"].map((key) => ({ key, block: key.startsWith("way") ? "" : key.slice(0, 2) }));
  const from = (...done) => firstOpen(some, (k) => done.includes(k));
  assert.equal(from(), 0);
  assert.equal(from("way-1"), 1);
  assert.equal(from("A1-01"), 2);
  assert.equal(from("A1-01", "A1-02"), 3, "both ways to the next block");
  assert.equal(from("A1-01", "A1-02", "way-2"), 4);
  assert.equal(from("A1-02", "B1-01"), 0, "a lane that was left out comes with its way");
  assert.equal(from("A1-01", "A1-02", "B1-01"), 6, "the way home");
  assert.equal(from("A1-01", "A1-02", "B1-01", "way-4"), -1);
});
