import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { newKey, Outbox } from "../src/field/outbox.js";
import { Store } from "../src/field/store.js";

let asked = [], down = false, answerWith = () => ({ state: "logged" });
const notes = new Map();
globalThis.localStorage = new Proxy({
  getItem: (k) => notes.get(k) ?? null, setItem: (k, v) => { notes.set(k, v); }, removeItem: (k) => { notes.delete(k); },
}, { ownKeys: () => [...notes.keys()], getOwnPropertyDescriptor: (_, k) => ({ value: notes.get(k), enumerable: true, configurable: true }) });
globalThis.fetch = async (path, init) => {
  if (down) throw new TypeError("Failed to fetch");
  const body = JSON.parse(init.body);
  asked.push(body.entries);
  return new Response(JSON.stringify({ version: 1, now: body.now, clock_off_s: 0, results: body.entries.map((e) => ({ key: e.key, ...answerWith(e) })) }));
};

beforeEach(() => { asked = []; down = false; answerWith = () => ({ state: "logged" }); notes.clear(); });

const box = (kept = new Map(), store = new Store(null)) => {
  const o = new Outbox(store, kept);
  o.flight = "garza";
  return o;
};
const settled = async (o) => { for (let i = 0; i < 1000 && (o.busy || o.mine().length && !down); i++) await new Promise((ok) => setTimeout(ok, 1)); };

test("keys are UUIDs of their own", () => {
  const some = new Set(Array.from({ length: 1000 }, newKey));
  assert.equal(some.size, 1000);
  for (const k of some) assert.match(k, /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
});

test("what is said out of range waits, in order and with its own time, and goes once", async () => {
  const o = box();
  down = true;
  const keys = [o.say("timing", { event: "ejection" }, 1e12), o.say("lane", { plan: 1, block: "A1", lane: 1, state: "done" }, 1e12 + 5)];
  await settled(o);
  assert.equal(o.size, 2);
  down = false;
  await o.send();
  assert.deepEqual(asked.map((b) => b.map((e) => e.key)), [keys]);
  assert.equal(asked[0][0].at, "2001-09-09T01:46:40.000Z");
  assert.equal(o.size, 0);
  await o.send();
  assert.equal(asked.length, 1);
});

test("what was taken back before it went never goes", async () => {
  const o = box();
  down = true;
  const key = o.say("ignition", {});
  await settled(o);
  assert.equal(o.drop(key), true);
  down = false;
  await o.send();
  assert.deepEqual(asked, []);
});

test("a queue of 10 000 goes in portions", async () => {
  const kept = new Map(Array.from({ length: 10000 }, (_, n) => ["key-" + n, { entry: { key: "key-" + n, at: "", kind: "lane" }, n, flight: "garza" }]));
  const o = box(kept);
  await o.send();
  assert.equal(asked.length, 20);
  assert.deepEqual(asked.flat().map((e) => e.key), [...kept.keys()]);
  assert.equal(o.size, 0);
});

test("a weak signal is asked for 200 kB at a time, and one entry always goes", async () => {
  const o = box();
  down = true;
  for (const n of [150e3, 40e3, 40e3, 300e3, 10]) o.say("track", { note: "x".repeat(n) });
  await settled(o);
  down = false;
  await o.send();
  assert.deepEqual(asked.map((b) => b.length), [2, 1, 1, 1]);
  assert.equal(o.size, 0);
});

test("what was refused or is at odds is told, and is not sent again", async () => {
  const o = box(), told = [];
  answerWith = (e) => ({ state: e.kind === "find" ? "conflict" : "refused", message: "why" });
  o.addEventListener("answer", (e) => told.push([e.detail.entry.kind, e.detail.state, e.detail.message]));
  down = true;
  o.say("find", {});
  o.say("lane", {});
  await settled(o);
  down = false;
  await o.send();
  assert.deepEqual(told, [["find", "conflict", "why"], ["lane", "refused", "why"]]);
  assert.equal(o.size, 0);
});

test("of positions the newest waits", async () => {
  const o = box();
  down = true;
  o.say("position", { lat: 1 });
  await settled(o);
  o.say("position", { lat: 2 });
  await settled(o);
  assert.deepEqual(o.of("position").map((e) => e.lat), [2]);
});

test("a page that is closed before the database has written loses nothing", async () => {
  const slow = new Store(null);
  slow.put = () => new Promise(() => {}); // never answers
  const o = box(new Map(), slow);
  down = true;
  const key = o.say("find", { lat: 1 });
  await settled(o);
  const next = box(); // the page again, with an empty database
  assert.deepEqual(next.of("find").map((e) => e.key), [key]);
  down = false;
  await next.send();
  assert.equal(asked[0][0].key, key);
  assert.equal(notes.size, 0);
});

test("what was said of one flight is not sent to another", async () => {
  const o = box();
  down = true;
  o.say("find", {});
  await settled(o);
  down = false;
  o.flight = "heron";
  await o.send();
  assert.deepEqual([asked.length, o.size, o.others], [0, 0, ["garza"]]);
  o.flight = "garza";
  await o.send();
  assert.deepEqual([asked.length, o.others], [1, []]);
});

test("nothing is sent before it is known which flight is served", async () => {
  const o = new Outbox(new Store(null), new Map());
  o.said = "garza";
  o.say("find", {});
  await o.send();
  assert.equal(asked.length, 0);
  o.flight = "garza";
  await o.send();
  assert.equal(asked.length, 1);
});
