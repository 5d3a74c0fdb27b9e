import assert from "node:assert/strict";
import test from "node:test";
import { readWith, unreadRows, zoomed } from "../../../../daemon/page/review.js";

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

test("what is drawn is said before it is believed", () => {
  assert.equal(readWith("trout", ["brine", "trout-core"]), "Drawn from brine and trout-core, which are the probes of trout today.");
  assert.match(readWith("trout", []), /^What trout was read with is not known here/);
});

test("what was not read stands in the list, the longest of it", () => {
  const told = (ms) => String(ms / 1000), gap = (from, length) => ({ probe: "smoke", from_ms: from * 1000, to_ms: (from + length) * 1000, reason: "open" });
  assert.deepEqual(unreadRows([gap(10, 40), gap(90, 1)], 30_000, told), [{ t: 10_000, text: "10 smoke was not read until 50: open" }]);
  const many = unreadRows(Array.from({ length: 30 }, (_, i) => gap(i * 100, 30 + i)), 30_000, told);
  assert.equal(many.length, 21);
  assert.equal(many[20].text, "and 10 shorter times without a reading");
});
