import assert from "node:assert/strict";
import test from "node:test";
import { zoomed } from "../../../../daemon/page/review.js";

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
