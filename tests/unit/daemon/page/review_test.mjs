import assert from "node:assert/strict";
import test from "node:test";
import { belonging, concerns, readOf, readWith, unreadRows, zoomed } from "../../../../daemon/page/review.js";

const whole = { from: 0, to: 8_000_000 };

test("closer shows half around the middle, wider twice as much, and never beyond the cook", () => {
  const half = zoomed(whole, whole, "closer");
  assert.deepEqual(half, { from: 2_000_000, to: 6_000_000 });
  assert.deepEqual(zoomed(half, whole, "wider"), whole);
  assert.deepEqual(zoomed(whole, whole, "wider"), whole);
  let span = whole;
  for (let i = 0; i < 30; i += 1) span = zoomed(span, whole, "closer");
  assert.equal(span.to - span.from, 60_000);
});

test("earlier and later move by a quarter, up to the ends", () => {
  const half = { from: 2_000_000, to: 6_000_000 };
  assert.deepEqual(zoomed(half, whole, "later"), { from: 3_000_000, to: 7_000_000 });
  assert.deepEqual(zoomed({ from: 0, to: 4_000_000 }, whole, "earlier"), { from: 0, to: 4_000_000 });
  assert.deepEqual(zoomed({ from: 3_900_000, to: 7_900_000 }, whole, "later"), { from: 4_000_000, to: 8_000_000 });
});

test("a cook of half a minute is shown whole", () => {
  const short = { from: 0, to: 30_000 };
  assert.deepEqual(zoomed(short, short, "closer"), short);
});

const at = (second) => new Date(second * 1000).toISOString().replace(/\.\d+Z/, "+00:00");
const shoulder = { cook: 7, dish: "boar-shoulder", began: at(100), ended: at(900), read_with: { cores: [{ probe: "boar-core", from: at(100), to: at(900) }], vessels: [
  { vessel: "smoker", probe: "smoke", from: at(100), to: at(500) }, { vessel: "counter", probe: null, from: at(500), to: at(600) }, { vessel: "keep-hot", probe: "pass", from: at(600), to: at(900) }] } };

test("what a cook was read with is what the logbook says, each vessel while the dish was in it", () => {
  const { lines, vessels } = readOf(shoulder);
  assert.deepEqual(lines.map((one) => `${one.probe} ${one.of}`), ["boar-core core", "smoke smoker", "pass keep-hot"]);
  assert.deepEqual(vessels.map((one) => one.of), ["smoker", "counter", "keep-hot"]);
  assert.deepEqual(lines[1].during, [{ from: -Infinity, to: 500_000 }]);
  assert.deepEqual(lines[2].during, [{ from: 600_000, to: Infinity }]);
  const points = [80, 300, 495, 550, 595, 600, 890].map((s) => ({ t: s * 1000, c: s }));
  assert.deepEqual(belonging(lines[1], points, 10_000).flat().map((p) => p.c), [80, 300], "a grain that reaches beyond the move is drawn");
  assert.deepEqual(belonging(lines[2], points, 10_000).flat().map((p) => p.c), [600, 890]);
  assert.equal(belonging(lines[0], points, 10_000).flat().length, 7);
});

test("a dish that went back into a vessel has one line for it, in two pieces", () => {
  const cook = { ...shoulder, ended: null, read_with: { cores: [], vessels: [
    { vessel: "oven", probe: "oven-air", from: at(100), to: at(200) }, { vessel: "fridge", probe: "cold", from: at(200), to: at(300) }, { vessel: "oven", probe: "oven-air", from: at(300), to: null }] } };
  const { lines } = readOf(cook);
  assert.deepEqual(lines[0].during, [{ from: -Infinity, to: 200_000 }, { from: 300_000, to: Infinity }]);
  assert.equal(belonging(lines[0], [{ t: 150_000, c: 1 }, { t: 250_000, c: 2 }, { t: 350_000, c: 3 }], 1000).length, 2);
  assert.match(readWith("tart", lines, (ms) => `${ms / 1000}`), /^Read with oven-air \(in oven until 200 and from 300\) and cold \(in fridge from 200 to 300\)\.$/);
});

test("what happened to a vessel belongs to a cook while the dish was in it", () => {
  const read = readOf(shoulder), of = (subject, ...seconds) => concerns("boar-shoulder", read, subject, ...seconds.map((s) => s * 1000));
  assert.ok(of("boar-shoulder", 300) && of("kitchen", 300) && of("", 300) && of("smoker", 300) && of("smoke", 300) && of("boar-core", 700) && of("counter", 550));
  assert.ok(!of("smoker", 700) && !of("smoke", 700) && !of("keep-hot", 300) && !of("trout", 300));
  assert.ok(of("smoker", 50, 200) && of("keep-hot", 300, Infinity), "an alarm that reached into the time");
  assert.ok(!concerns("boar-shoulder", null, "smoker", 300_000));
});

test("what is drawn is said before it is believed", () => {
  const told = (ms) => `${ms / 1000}`;
  assert.equal(readWith("boar-shoulder", readOf(shoulder).lines, told), "Read with boar-core (core), smoke (in smoker until 500) and pass (in keep-hot from 600).");
  assert.match(readWith("trout", null, told), /^What trout was read with is not known/);
  assert.match(readWith("trout", [], told), /^Trout had no probe of its own/);
  assert.equal(readOf({ ...shoulder, read_with: null }), null);
});

test("what was not read stands in the list, the longest of it", () => {
  const told = (ms) => String(ms / 1000), gap = (from, length) => ({ probe: "smoke", from_ms: from * 1000, to_ms: (from + length) * 1000, reason: "open" });
  assert.deepEqual(unreadRows([gap(10, 40), gap(90, 1)], 30_000, told), [{ t: 10_000, text: "10 smoke was not read until 50: open" }]);
  const many = unreadRows(Array.from({ length: 30 }, (_, i) => gap(i * 100, 30 + i)), 30_000, told);
  assert.equal(many.length, 21);
  assert.equal(many[20].text, "and 10 shorter times without a reading");
});
